"""For the hands: the fewest presets to type and, among those, the fewest banks; with bounds.

Which song lies in which bank does not look at the playing order here. What is proven says so by
numbers that can be checked: prices of songs, of which no bank is worth more than it holds presets,
and songs of which no two fit into one bank.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from setwright.compiler.placement.apart import apart
from setwright.compiler.placement.cover import (
    Covered,
    Covering,
    NoSolverError,
    rounded_up,
    served_by,
)
from setwright.compiler.placement.needs import (
    Need,
    Room,
    TooManyUnionsError,
    look_at_sizes,
    unions,
    united,
    widest,
)


class Packed(NamedTuple):
    """Banks, each as the presets that lie in it, and how good that is.

    ``least`` is a bound from below on the presets in all banks together, ``fewest`` one on the
    banks (of all that have so few presets, where that is proven). ``prices`` pairs needs with what
    they pay: no bank of the size is worth more than it holds presets, so their sum, rounded up, is
    ``least``; ``apart`` are needs of which no two fit into one bank. ``why_not`` says what kept
    the proof away, empty where both are proven.
    """

    banks: tuple[Need, ...]
    least: int
    fewest: int
    prices: tuple[tuple[Need, float], ...] = ()
    apart: tuple[Need, ...] = ()
    why_not: str = ""

    @property
    def presets(self) -> int:
        """How many presets are typed."""
        return sum(bank.bit_count() for bank in self.banks)

    @property
    def proven(self) -> bool:
        """Whether nothing has fewer presets, and nothing that has as few has fewer banks."""
        return self.presets == self.least and len(self.banks) == self.fewest


def packed(needs: Sequence[Need], room: Room, at_most: int | None = None) -> Packed:
    """Pack ``needs`` into banks; at most so many if said.

    `TooLargeError` for a need that no bank holds. Where it takes more banks than ``at_most`` the
    result has more, and the caller has to look.
    """
    songs = widest(needs)
    look_at_sizes(songs, room)
    if not songs:
        return Packed((), 0, 0)
    alone = tuple(songs[at] for at in apart(songs, room))
    different = united(songs).bit_count()
    fewest = max(len(alone), -(-different // room.size))
    known = _greedy(songs, room)
    first = Packed(known, different, fewest, apart=alone)
    if first.proven and (at_most is None or len(known) <= at_most):
        return first
    try:
        return _proven(songs, room, at_most, first)
    except TooManyUnionsError:
        return first._replace(why_not="there are too many ways to fill a bank")
    except NoSolverError as error:
        return first._replace(why_not=f"the solver HiGHS is not there ({error})")


def _proven(songs: Sequence[Need], room: Room, at_most: int | None, first: Packed) -> Packed:
    ways = unions(songs, room)
    rows = served_by(ways, songs)
    sizes = [way.bit_count() for way in ways]
    relaxed = Covering(len(songs), rows, sizes).relaxed()
    least = max(first.least, rounded_up(relaxed.bound))
    prices = tuple(zip(songs, relaxed.prices, strict=True))
    best = first._replace(least=least, prices=prices)
    while True:
        # What costs more than that beyond its price cannot be in any answer so cheap.
        cheap = _cheap(relaxed, least)
        found = Covering(
            len(songs), [rows[at] for at in cheap], [sizes[at] for at in cheap]
        ).solved()
        if found.chosen is not None and sum(sizes[cheap[at]] for at in found.chosen) == least:
            break
        if found.bound < least + 0.5:
            return best._replace(least=least, why_not="the search reached its limit")
        # Whatever is dearer than that beyond its price was left out: no more than this is proven.
        least += 1
    chosen = [cheap[at] for at in found.chosen]
    best = Packed(tuple(ways[at] for at in chosen), least, first.fewest, prices, first.apart)
    best = _fewest_banks(songs, room, ways, rows, sizes, relaxed, best)
    if at_most is not None and len(best.banks) > at_most:
        return _within(songs, rows, sizes, ways, at_most, best)
    return _shrunk(best, songs)


def _cheap(relaxed: Covered, cost: int) -> list[int]:
    slack = cost - relaxed.bound + 1e-4
    return [at for at, beyond in enumerate(relaxed.reduced) if beyond <= slack]


def _fewest_banks(
    songs: Sequence[Need],
    room: Room,
    ways: Sequence[Need],
    rows: Sequence[Sequence[int]],
    sizes: Sequence[int],
    relaxed: Covered,
    best: Packed,
) -> Packed:
    """Return the packing with as few presets in the fewest banks."""
    fewest = max(best.fewest, -(-best.least // room.size))
    if len(best.banks) == fewest:
        return best._replace(fewest=fewest)
    cheap = _cheap(relaxed, best.least)
    covering = Covering(
        len(songs),
        [rows[at] for at in cheap],
        [1] * len(cheap),
        [[(0, sizes[at])] for at in cheap],
        [best.least],
    )
    found = covering.solved()
    fewest = max(fewest, rounded_up(found.bound))
    if found.chosen is None:
        return best._replace(fewest=fewest, why_not="the search reached its limit")
    banks = tuple(ways[cheap[at]] for at in found.chosen)
    if len(banks) > len(best.banks):
        banks = best.banks
    why_not = "" if len(banks) == fewest else "the search reached its limit"
    return best._replace(banks=banks, fewest=fewest, why_not=why_not)


def _within(
    songs: Sequence[Need],
    rows: Sequence[Sequence[int]],
    sizes: Sequence[int],
    ways: Sequence[Need],
    at_most: int,
    best: Packed,
) -> Packed:
    """Return the packing with the fewest presets that needs no more banks than there are."""
    found = Covering(len(songs), rows, sizes, [[(0, 1)]] * len(rows), [at_most]).solved()
    if found.chosen is None:
        return _shrunk(best, songs)
    banks = tuple(ways[at] for at in found.chosen)
    least = max(best.least, rounded_up(found.bound))
    why_not = "" if sum(map(int.bit_count, banks)) == least else "the search reached its limit"
    return _shrunk(
        Packed(banks, least, min(best.fewest, len(banks)), best.prices, best.apart, why_not), songs
    )


def _shrunk(found: Packed, songs: Sequence[Need]) -> Packed:
    """Return ``found`` without what no song needs, each song in the first bank that serves it."""
    parts = [0] * len(found.banks)
    for song in songs:
        at = next(at for at, bank in enumerate(found.banks) if song & bank == song)
        parts[at] |= song
    return found._replace(banks=tuple(part for part in parts if part))


def _greedy(songs: Sequence[Need], room: Room) -> tuple[Need, ...]:
    """Return a packing that puts each song where it adds the fewest presets."""
    banks: list[Need] = []
    waiting = list(songs)
    while waiting:
        bank = waiting.pop(0)
        while True:
            fits = [song for song in waiting if room.holds(bank | song) and bank & song]
            if not fits:
                break
            song = min(fits, key=lambda one: ((one & ~bank).bit_count(), -(one & bank).bit_count()))
            waiting.remove(song)
            bank |= song
        banks.append(bank)
    return _joined(banks, room)


def _joined(banks: Sequence[Need], room: Room) -> tuple[Need, ...]:
    """Return ``banks`` with those put together that fit into one, the fullest first."""
    result: list[Need] = []
    for bank in sorted(banks, key=lambda one: (-one.bit_count(), one)):
        fits = [at for at, other in enumerate(result) if room.holds(other | bank)]
        if fits:
            at = max(
                fits, key=lambda one: ((result[one] & bank).bit_count(), result[one].bit_count())
            )
            result[at] |= bank
        else:
            result.append(bank)
    return tuple(result)
