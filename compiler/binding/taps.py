"""Delays that only a foot can set: what it taps, and when.

Runs on the songs of a night in their order, once they are bound. At a press of a scene that uses
such a delay the foot taps the echo that is asked for, else the song's beat; unless it was tapped
so before and nothing else since. That is remembered from press to press, and into a song that
follows straight on. Before any other song nobody can be sure what was played last, for a set list
changes on the stage, so its first tap is always said; so is that of a scene that is pressed as
one likes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.foot import FootMove
from setwright.compiler.binding.target import Tap


def with_taps(songs: Iterable[BoundSong]) -> Iterator[BoundSong]:
    """Yield ``songs`` with what is tapped among the moves of the foot."""
    tapped: dict[str, str] = {}
    for song in songs:
        if not _goes_straight_on(song):
            tapped = {}
        taps = {name: list(_taps(song, name)) for name in song.scenes}
        in_order = bool(song.song.order)
        feet = []
        for moment, moves in zip(song.moments, song.feet, strict=True):
            new = [
                move
                for move in taps.get(moment.scene, ())
                if not in_order or tapped.get(move.unit) != move.position
            ]
            tapped.update(new)
            feet.append((*moves, *new))
        pressed = {moment.scene for moment in song.moments}
        chosen = [(name, move) for name in taps if name not in pressed for move in taps[name]]
        if chosen or (not in_order and any(taps.values())):
            tapped = {}  # which of them was pressed last, nobody knows
        yield song._replace(feet=tuple(feet), taps=tuple(chosen))


def _taps(song: BoundSong, scene: str) -> Iterator[FootMove]:
    for wanted in song.scenes[scene].wanted:
        if isinstance(wanted.value, Tap):
            yield FootMove(wanted.unit, wanted.value.at(song.tempo))


def _goes_straight_on(song: BoundSong) -> bool:
    """Tell whether a song follows the one before without a pause; after a break nothing does."""
    playing = song.playing
    straight = playing is not None and playing.straight_into is not None
    return straight and song.number > 0 and playing is not None and playing.path[-1] != 0
