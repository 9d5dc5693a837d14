"""What is to be placed: each song's presets, which have to lie in one bank together.

A need is a set of presets, as the bits of a number: bit n stands for preset n. Two songs may share
presets; a preset that two songs of one bank need lies there once.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

Need = int
"""A set of presets: bit n is set where preset n is in it."""


class Room(NamedTuple):
    """What a bank holds: ``size`` presets, and of each of ``pinned`` at most one.

    Each of ``pinned`` is the set of presets that lie on one and the same switch.
    """

    size: int
    pinned: tuple[Need, ...] = ()

    def holds(self, union: Need) -> bool:
        """Tell whether a bank can hold all presets of ``union``."""
        if union.bit_count() > self.size:
            return False
        for group in self.pinned:
            here = union & group
            if here & (here - 1):  # more than one of them
                return False
        return True


def need_of(presets: Iterable[int]) -> Need:
    """Return the set of ``presets``, which are counted from 0."""
    need = 0
    for preset in presets:
        need |= 1 << preset
    return need


def presets_of(need: Need) -> list[int]:
    """Return the presets of ``need`` by rising number."""
    found = []
    while need:
        lowest = need & -need
        found.append(lowest.bit_length() - 1)
        need ^= lowest
    return found


def widest(needs: Iterable[Need]) -> list[Need]:
    """Return the needs that lie within no other, each once, the largest first.

    What lies within another finds its place in that one's bank, at no cost.
    """
    kept: list[Need] = []
    for need in sorted(set(needs), key=lambda one: (-one.bit_count(), one)):
        if need and not any(need & other == need for other in kept):
            kept.append(need)
    return kept


def united(needs: Iterable[Need]) -> Need:
    """Return all presets of ``needs``."""
    union = 0
    for need in needs:
        union |= need
    return union


class TooLargeError(ValueError):
    """A need that no bank holds."""


def look_at_sizes(needs: Iterable[Need], room: Room) -> None:
    """Raise `TooLargeError` for a need that no bank holds."""
    if not all(map(room.holds, needs)):
        raise TooLargeError


class TooManyUnionsError(Exception):
    """There are more ways to fill a bank than are looked through."""


MOST_UNIONS = 120_000
"""Ways to fill a bank that are looked through; 300 songs with 8 switches have some 30,000."""


def unions(needs: Sequence[Need], room: Room, most: int = MOST_UNIONS) -> list[Need]:
    """Return every set of presets that some of ``needs`` make together and that a bank holds.

    In an order that depends on ``needs`` alone. Raises `TooManyUnionsError` beyond ``most``.
    """
    found = dict.fromkeys(filter(room.holds, needs))
    new = list(found)
    while new:
        wider: list[Need] = []
        for union in new:
            if union.bit_count() == room.size:
                continue
            for need in needs:
                both = union | need
                if both not in found and room.holds(both):
                    found[both] = None
                    wider.append(both)
            if len(found) > most:
                raise TooManyUnionsError
        new = wider
    return list(found)
