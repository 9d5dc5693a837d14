"""For the hands, over what is typed in already: the fewest presets to type again.

A bank costs what has to be typed into it: what lies there already is free. Each bank is filled in
one way at most; banks of which nothing is wanted are all alike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from setwright.compiler.placement.cover import Covering, NoSolverError, rounded_up, served_by
from setwright.compiler.placement.needs import (
    Need,
    Room,
    TooManyUnionsError,
    look_at_sizes,
    unions,
    united,
    widest,
)

MOST_WAYS = 300_000
"""Ways to fill a bank of a certain number that are given to the solver."""


class Rewritten(NamedTuple):
    """What lies in which bank; ``least`` is a bound from below on what is typed.

    ``why_not`` says what kept the proof away, empty where no way has less to type. ``banks`` is
    empty where there are too few of them.
    """

    banks: dict[int, Need]
    typed: int
    least: int
    why_not: str = ""

    @property
    def proven(self) -> bool:
        """Whether nothing has less to type."""
        return bool(self.banks) and self.typed == self.least


def rewritten(needs: Sequence[Need], room: Room, stored: Sequence[Need], banks: int) -> Rewritten:
    """Return the least to type so that ``needs`` lie in ``banks``, over what is ``stored``.

    `TooLargeError` for a need that no bank holds.
    """
    songs = widest(needs)
    look_at_sizes(songs, room)
    there = [*stored, *[0] * banks][:banks]
    known = _greedy(songs, room, there)
    least = (united(songs) & ~united(there)).bit_count()
    first = Rewritten(known or {}, _typed(known or {}, there), least)
    if first.proven or not songs:
        return first
    try:
        return _proven(songs, room, there, first)
    except TooManyUnionsError:
        return first._replace(why_not="there are too many ways to fill a bank")
    except NoSolverError as error:
        return first._replace(why_not=f"the solver HiGHS is not there ({error})")


def _proven(
    songs: Sequence[Need], room: Room, there: Sequence[Need], first: Rewritten
) -> Rewritten:
    fills = unions(songs, room)
    used = [bank for bank, lies in enumerate(there) if lies & united(songs)]
    ways: list[tuple[int | None, Need]] = [(None, fill) for fill in fills]
    ways += [(bank, fill) for fill in fills for bank in used if fill & there[bank]]
    if len(ways) > MOST_WAYS:
        raise TooManyUnionsError
    served = dict(zip(fills, served_by(fills, songs), strict=True))
    costs = [_cost(way, there) for way in ways]
    limit_of = {bank: at for at, bank in enumerate(used, 1)}
    # The first limit is that of all banks; the others let each bank be filled once.
    further = [[(0, 1), *([(limit_of[bank], 1)] if bank is not None else [])] for bank, _ in ways]
    limits = [len(there), *[1] * len(used)]
    relaxed = Covering(
        len(songs), [served[fill] for _, fill in ways], costs, further, limits
    ).relaxed()
    if math.isinf(relaxed.bound):
        # Either there is no way at all, or the solver gave up: nothing more is known then.
        return first if relaxed.bound > 0 else first._replace(why_not="the solver gave up")
    least = max(first.least, rounded_up(relaxed.bound))
    if first.banks and first.typed == least:
        return first._replace(least=least)
    most = first.typed if first.banks else sum(song.bit_count() for song in songs)
    # What costs more than that beyond its price is in no answer that is better than the known one.
    slack = most - relaxed.bound + 1e-4
    cheap = [at for at, beyond in enumerate(relaxed.reduced) if beyond <= slack]
    found = Covering(
        len(songs),
        [served[ways[at][1]] for at in cheap],
        [costs[at] for at in cheap],
        [further[at] for at in cheap],
        limits,
    ).solved()
    if math.isfinite(found.bound):
        least = max(least, min(most, rounded_up(found.bound)))
    if found.chosen is None:
        why_not = "" if not first.banks and found.bound > 0 else "the search reached its limit"
        return first._replace(least=least, why_not=why_not)
    chosen = _numbered([ways[cheap[at]] for at in found.chosen], songs, there)
    best = Rewritten(chosen, _typed(chosen, there), least)
    if first.banks and first.typed <= best.typed:
        best = first._replace(least=least)
    return best if best.proven else best._replace(why_not="the search reached its limit")


def _cost(way: tuple[int | None, Need], there: Sequence[Need]) -> int:
    bank, fill = way
    return (fill & ~there[bank] if bank is not None else fill).bit_count()


def _numbered(
    ways: Sequence[tuple[int | None, Need]], songs: Sequence[Need], there: Sequence[Need]
) -> dict[int, Need]:
    """Return the banks with what songs need of them; those without a number get what is free."""
    taken = {bank for bank, _ in ways if bank is not None}
    wanted = united(songs)
    # First where nothing lies that is wanted: what is overwritten is of no use there.
    free = iter(
        sorted(
            (bank for bank in range(len(there)) if bank not in taken),
            key=lambda bank: ((there[bank] & wanted).bit_count(), bank),
        )
    )
    result = {bank if bank is not None else next(free): fill for bank, fill in ways}
    parts = dict.fromkeys(result, 0)
    for song in songs:
        bank = min(
            (one for one, fill in result.items() if song & fill == song),
            key=lambda one: ((song & ~parts[one] & ~there[one]).bit_count(), one),
        )
        parts[bank] |= song
    return {bank: part for bank, part in sorted(parts.items()) if part}


def _greedy(songs: Sequence[Need], room: Room, there: Sequence[Need]) -> dict[int, Need] | None:
    """Return banks with each song where it takes the least typing; None where one finds none."""
    lying = [0] * len(there)
    # What lies somewhere as a whole stays there, before others come.
    order = sorted(songs, key=lambda one: (not any(one & lies == one for lies in there), -one))
    for song in order:
        costs = [
            ((song & ~lying[bank] & ~there[bank]).bit_count(), not lying[bank], bank)
            for bank in range(len(there))
            if room.holds(lying[bank] | song)
        ]
        if not costs:
            return None
        lying[min(costs)[2]] |= song
    return {bank: lies for bank, lies in enumerate(lying) if lies}


def _typed(banks: dict[int, Need], there: Sequence[Need]) -> int:
    return sum((lies & ~there[bank]).bit_count() for bank, lies in banks.items())
