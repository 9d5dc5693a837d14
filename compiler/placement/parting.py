"""A song over two banks: which of its scenes lie in the first, and which in the second.

The foot moves from bank to bank while the song goes on, so scenes that are pressed one after the
other stay together: the song is parted where the fewest moves come of it.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from itertools import pairwise
from typing import TypeVar

from setwright.compiler.binding.bound import BoundSong

Key = TypeVar("Key", bound=Hashable)


def may_part(song: BoundSong) -> bool:
    """Tell whether this song may lie in two banks."""
    return song.song.over_two_banks and not song.general


def over_two_banks(
    pressed: Sequence[Key], presets: Mapping[Key, Hashable], held: int
) -> list[list[Key]]:
    """Return the scenes of a song's first and second bank, of which each holds ``held`` presets.

    ``presets`` tells which scenes are the same preset; ``pressed`` are those that moments press.
    They are parted in the order in which they are first pressed, and of two ways with equally many
    moves the one that has more in the first bank is taken. Empty where two banks are too few.
    """
    order = list(dict.fromkeys([*pressed, *presets]))
    different = list(dict.fromkeys(presets[key] for key in order))
    if len(different) > 2 * held:
        return []
    presses = [different.index(presets[key]) for key in pressed]

    def moves(size: int) -> int:
        return sum((one < size) != (other < size) for one, other in pairwise(presses))

    size = min(range(held, len(different) - held - 1, -1), key=moves)
    first = set(different[:size])
    return [
        [key for key in order if presets[key] in first],
        [key for key in order if presets[key] not in first],
    ]
