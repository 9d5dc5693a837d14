"""The fewest banks that hold all songs, whatever is typed twice: a search song by song.

The song that fits into the fewest banks is put first; empty banks are all alike. The search has a
fixed number of steps: what it has not found by then may still exist, and is not called impossible.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from setwright.compiler.placement.apart import apart
from setwright.compiler.placement.needs import Need, Room, look_at_sizes, united, widest

STEPS = 200_000
"""Songs that are put into a bank and taken out again before the search gives up."""


class Fewest(NamedTuple):
    """Banks as presets, and the fewest that there can be; the two are one number where proven."""

    banks: tuple[Need, ...]
    fewest: int

    @property
    def proven(self) -> bool:
        """Whether fewer banks cannot do."""
        return len(self.banks) == self.fewest


def fewest_banks(needs: Sequence[Need], room: Room, steps: int = STEPS) -> Fewest:
    """Return the fewest banks, and a bound from below.

    `TooLargeError` for a need that no bank holds.
    """
    songs = widest(needs)
    look_at_sizes(songs, room)
    if not songs:
        return Fewest((), 0)
    least = max(len(apart(songs, room)), -(-united(songs).bit_count() // room.size))
    count, proven = least, True
    while True:
        found = within(songs, room, count, steps)
        if found:
            banks = tuple(bank for bank in found if bank)
            return Fewest(banks, count if proven else least)
        if found is None:
            proven = False  # nobody knows, so more banks are tried, and the bound stays
        elif proven:
            least = count + 1
        count += 1


def within(
    songs: Sequence[Need], room: Room, count: int, steps: int = STEPS
) -> tuple[Need, ...] | None:
    """Return ``count`` banks that hold all ``songs``; empty if there are none, None if unknown."""
    left = steps

    def fill(banks: list[Need], waiting: list[Need]) -> tuple[Need, ...] | None:
        nonlocal left
        # A song that lies within a bank already asks for nothing more.
        waiting = [song for song in waiting if not any(song & bank == song for bank in banks)]
        if not waiting:
            return tuple(banks)
        hardest: tuple[int, int, Need] | None = None
        where: list[int] = []
        for song in waiting:
            fits, empty = [], False
            for at, bank in enumerate(banks):
                if room.holds(bank | song) and not (empty and not bank):
                    fits.append(at)
                    empty = empty or not bank
            if hardest is None or (len(fits), -song.bit_count()) < hardest[:2]:
                hardest, where = (len(fits), -song.bit_count(), song), fits
            if len(fits) == 0:
                return ()
        assert hardest is not None
        song = hardest[2]
        for at in sorted(where, key=lambda one: (song & ~banks[one]).bit_count()):
            left -= 1
            if left < 0:
                return None
            before = banks[at]
            banks[at] = before | song
            found = fill(banks, waiting)
            banks[at] = before
            if found is None or found:
                return found
        return ()

    return fill([0] * count, list(songs))
