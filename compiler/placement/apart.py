"""Songs of which no two fit into one bank: so many banks it takes at least, and anyone can check.

The more such songs are found, the better the bound; the search has a fixed number of steps, so that
the same songs give the same answer everywhere.
"""

from __future__ import annotations

from collections.abc import Sequence

from setwright.compiler.placement.needs import Need, Room

STEPS = 20_000
"""Branches that are looked at; enough for books of sixty songs, and some milliseconds."""


def apart(needs: Sequence[Need], room: Room, steps: int = STEPS) -> tuple[int, ...]:
    """Return the places in ``needs`` of songs of which no two fit into one bank.

    As many as are found within ``steps``. Each two of them are checked again at the end.
    """
    against = [
        sum(
            1 << other
            for other, theirs in enumerate(needs)
            if other != at and not room.holds(need | theirs)
        )
        for at, need in enumerate(needs)
    ]
    best: list[int] = []
    left = steps

    def grow(chosen: list[int], free: int) -> None:
        nonlocal best, left
        left -= 1
        if len(chosen) > len(best):
            best = list(chosen)
        for at, colour in reversed(_coloured(against, free)):
            if left <= 0 or len(chosen) + colour <= len(best):
                return
            grow([*chosen, at], free & against[at])
            free &= ~(1 << at)

    grow([], (1 << len(needs)) - 1)
    found = tuple(sorted(best))
    for at, one in enumerate(found):
        for other in found[at + 1 :]:
            assert not room.holds(needs[one] | needs[other])
    return found


def _coloured(against: Sequence[int], free: int) -> list[tuple[int, int]]:
    """Return the songs of ``free`` with colours from 1: those of one colour may share a bank.

    No set that is apart has more songs than colours, so the colour of the last bounds it.
    """
    result: list[tuple[int, int]] = []
    colour = 0
    while free:
        colour += 1
        possible = free
        while possible:
            lowest = possible & -possible
            at = lowest.bit_length() - 1
            result.append((at, colour))
            free &= ~lowest
            # What is against it cannot have its colour.
            possible &= ~lowest & ~against[at]
    return result
