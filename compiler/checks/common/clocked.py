"""Tempos that songs want of the switcher's clock and that it cannot have."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.paced import is_paced
from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.compiled import Compiled
from setwright.scenes.places import KeyPath


class Clocked(NamedTuple):
    """A song whose tempo the switcher's clock cannot have: the first quantity that wants it.

    ``path`` is where the tempo is written, in the song or in tonight's playing of it.
    """

    song: BoundSong
    wanted: Wanted
    path: KeyPath


def clocked(compiled: Compiled, cause: Cause) -> Iterator[Clocked]:
    """Yield tonight's songs in which something cannot follow the switcher's clock for ``cause``."""
    switcher = compiled.book.switcher
    if not any(is_paced(unit, switcher) for unit in compiled.book.rig.units.values()):
        return
    for song in compiled.songs:
        first = next(
            (
                one
                for name in song.scenes
                for one in compiled.scene(song, name).proved
                if one.verdict is Verdict.UNKNOWN and one.cause is cause
            ),
            None,
        )
        if first is not None:
            tonight = song.playing is not None and song.playing.tempo is not None
            whose = song.playing.path if tonight and song.playing is not None else song.song.path
            yield Clocked(song, first, (*whose, "tempo"))
