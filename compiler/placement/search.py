"""The bank of every song: the best way for the feet, and banks for what has no place in the order.

Sets that are few enough are walked together, and the answer is exact. Otherwise they are walked
one after another, each exact given the others, until none gets better. Where the banks do not
hold the songs in order, they lie wherever they fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import prod
from typing import NamedTuple

from setwright.compiler.placement.feet import (
    Songs,
    TooManyStatesError,
    Walk,
    Walked,
    fewest_presses,
    reach,
)
from setwright.compiler.placement.fewest import fewest_banks
from setwright.compiler.placement.needs import Need, Room

TOGETHER = 3
"""Sets that are walked together; with more there are too many ways."""
PLACES = 50_000
"""Places that all sets together may have reached: three sets of thirty songs have 29,791."""
AGAIN = 6
"""Sets of which each is walked again, given the others, until none gets better."""
NO_LIMIT = 10**9
NEAR = 12
"""Banks, of those that earlier sets use, in which a later one of many sets may begin."""


MORE = (1, 2, 4, 8)
"""Bank presses more than were allowed that are tried where the banks are too few otherwise."""


class Aim(NamedTuple):
    """What is asked of a placement: banks, and what lies in them already.

    ``stored`` holds the presets that lie in each bank; ``slack`` is how many bank presses more
    than the fewest are allowed, for less typing. Where banks are called ``by_number`` each move is
    one press, however far.
    """

    banks: int
    stored: tuple[Need, ...] = ()
    slack: int = 0
    by_number: bool = False


class Banks(NamedTuple):
    """Where everything lies: the bank of each song of each set, and of each of the others.

    ``exact`` tells that nothing as good for the feet takes less typing.
    """

    of_song: tuple[tuple[int, ...], ...]
    of_other: tuple[int, ...]
    exact: bool
    by_number: bool = False

    @property
    def presses(self) -> int:
        """The presses from bank to bank in all sets together, up or down."""
        return sum(presses_of(way, by_number=self.by_number) for way in self.of_song)

    @property
    def in_order(self) -> bool:
        """Whether no song lies in a bank further down than the one before."""
        return all(one <= other for way in self.of_song for one, other in pairwise(way))


def presses_of(way: Sequence[int], *, by_number: bool) -> int:
    """Return the presses from bank to bank along the songs of a set, up or down."""
    if by_number:
        return sum(one != other for one, other in pairwise(way))
    return sum(abs(one - other) for one, other in pairwise(way))


def for_the_feet(
    sets: Sequence[Songs], others: Sequence[Need], room: Room, aim: Aim
) -> Banks | int:
    """Return the banks, or how many it takes at the least where there are too few.

    Every need is one that a bank holds.
    """
    found = _in_order(sets, others, room, aim)
    if found is not None:
        return found
    for more in MORE:
        # Sets that have to share banks, for there are few, may take some more presses.
        found = found or _in_order(sets, others, room, aim._replace(slack=aim.slack + more))
    anywhere = _anywhere(sets, others, room, aim)
    if found is None or isinstance(anywhere, int):
        return found or anywhere
    if not any(aim.stored):
        return found
    # Before everything is typed anew the foot goes down once.
    return min(found, anywhere, key=lambda one: typed_for(sets, others, one, aim))


def typed_for(sets: Sequence[Songs], others: Sequence[Need], banks: Banks, aim: Aim) -> int:
    """Return how many presets have to be typed so that everything lies in ``banks``."""
    lying = filled([*sets, *[Songs((need,)) for need in others]], _ways(banks))
    return typing(lying, aim.stored)


def _ways(banks: Banks) -> list[tuple[int, ...]]:
    return [*banks.of_song, *[(bank,) for bank in banks.of_other]]


def _in_order(sets: Sequence[Songs], others: Sequence[Need], room: Room, aim: Aim) -> Banks | None:
    """Return banks in which no song lies further down than the one before; None without any."""
    way, exact = _walked(sets, room, aim)
    while way is not None:
        found = _with_others(way, exact, sets, others, room, aim)
        if found is not None:
            return found
        # The way with the least typing may leave no room for requests that a tighter one has.
        highest = max((bank for one in way.of_song for bank in one), default=0)
        way, _ = _walked(sets, room, aim._replace(banks=highest))
        exact = False
    return None


def _walked(sets: Sequence[Songs], room: Room, aim: Aim) -> tuple[Walked | None, bool]:
    """Return a way for all sets, None without one, and whether it is known to be the best."""
    one_by_one = _one_by_one(sets, room, aim)
    if len(sets) <= 1:
        return one_by_one, True
    if len(sets) > TOGETHER or prod(len(one.needs) + 1 for one in sets) > PLACES:
        return one_by_one, False
    walk = _walk(sets, room, aim, known=one_by_one)
    try:
        return walk.best() or one_by_one, True
    except TooManyStatesError:
        return one_by_one, False


def _walk(
    sets: Sequence[Songs],
    room: Room,
    aim: Aim,
    taken: Sequence[Need] = (),
    known: Walked | None = None,
) -> Walk:
    banks, presses = aim.banks, fewest_presses(sets, room) + aim.slack
    if known is not None and not any(aim.stored):
        highest = max((bank for one in known.of_song for bank in one), default=0)
        banks = min(banks, highest + 1)
    return Walk(
        sets,
        room,
        banks,
        presses,
        taken=taken,
        stored=aim.stored,
        known=known,
        by_number=aim.by_number,
    )


def _one_by_one(sets: Sequence[Songs], room: Room, aim: Aim) -> Walked | None:
    """Return a way that is found set by set; None if none is found."""
    ways: list[tuple[int, ...]] = []
    allowed = [fewest_presses([one], room) for one in sets]
    for number, one in enumerate(sets):
        left = sum(allowed) + aim.slack - _all_presses(ways, aim) - sum(allowed[number:])
        part = aim._replace(slack=left)
        way = _alone(one, sets[:number], ways, room, part, near=len(sets) > AGAIN)
        if way is None:
            return None
        ways.append(way)
    if 1 < len(sets) <= AGAIN:
        for _ in range(len(sets)):
            before = list(ways)
            for number, one in enumerate(sets):
                others = [*sets[:number], *sets[number + 1 :]]
                rest = [*ways[:number], *ways[number + 1 :]]
                left = sum(allowed) + aim.slack - _all_presses(rest, aim) - allowed[number]
                way = _alone(one, others, rest, room, aim._replace(slack=left), near=False)
                if way is not None and _cost(sets, _with(ways, number, way), aim) < _cost(
                    sets, ways, aim
                ):
                    ways[number] = way
            if ways == before:
                break
    segues, typed, presses = _cost(sets, ways, aim)
    return Walked(tuple(ways), presses, segues, typed)


def _all_presses(ways: Sequence[Sequence[int]], aim: Aim) -> int:
    return sum(presses_of(way, by_number=aim.by_number) for way in ways)


def _with(ways: list[tuple[int, ...]], number: int, way: tuple[int, ...]) -> list[tuple[int, ...]]:
    return [*ways[:number], way, *ways[number + 1 :]]


def _alone(
    one: Songs,
    others: Sequence[Songs],
    ways: Sequence[tuple[int, ...]],
    room: Room,
    aim: Aim,
    *,
    near: bool,
) -> tuple[int, ...] | None:
    """Return the banks of one set's songs where those of ``others`` lie; None without any."""
    taken = filled(others, ways)
    first = max(0, len(taken) - NEAR) if near else 0
    # What is new may go where nothing lies yet; more banks than it needs are of no use there.
    used = max((at + 1 for at, there in enumerate(aim.stored) if there), default=0)
    last = min(aim.banks, max(len(taken), used) + len(reach(one.needs, room)) + aim.slack)
    part = aim._replace(banks=last - first, stored=aim.stored[first:])
    walk = _walk([one], room, part, taken=taken[first:])
    walk.most = NO_LIMIT  # one set alone has as many states as songs times banks, and no more
    found = walk.best()
    return None if found is None else tuple(bank + first for bank in found.of_song[0])


def filled(sets: Sequence[Songs], ways: Sequence[Sequence[int]]) -> list[Need]:
    """Return what lies in each bank."""
    result: list[Need] = []
    for one, way in zip(sets, ways, strict=True):
        for need, bank in zip(one.needs, way, strict=True):
            result += [0] * (bank + 1 - len(result))
            result[bank] |= need
    return result


def typing(lying: Sequence[Need], stored: Sequence[Need]) -> int:
    """Return how many presets of ``lying`` are not ``stored`` where they lie."""
    there = [*stored, *[0] * len(lying)]
    return sum((need & ~held).bit_count() for need, held in zip(lying, there, strict=False))


def _cost(sets: Sequence[Songs], ways: Sequence[Sequence[int]], aim: Aim) -> tuple[int, int, int]:
    """Return the bank moves at segues, what is typed, and the bank presses."""
    segues = sum(
        way[at] != way[at - 1]
        for one, way in zip(sets, ways, strict=True)
        for at in one.straight
        if at < len(way)
    )
    return segues, typing(filled(sets, ways), aim.stored), _all_presses(ways, aim)


# What has no place in the order.

MOST_TRIES = 20_000
"""Ways to put the others into banks that are looked at."""


def _with_others(
    way: Walked, exact: bool, sets: Sequence[Songs], others: Sequence[Need], room: Room, aim: Aim
) -> Banks | None:
    """Return the banks with those of ``others``: the least typing, then the fewest banks.

    None where they do not all find room.
    """
    lying = filled(sets, way.of_song)
    lying += [0] * (min(aim.banks, len(lying) + len(others)) - len(lying))
    stored = [*aim.stored, *[0] * aim.banks][: aim.banks]
    if any(aim.stored):
        lying += [0] * (aim.banks - len(lying))
    best: tuple[tuple[int, int], list[int]] | None = None
    tries = 0

    def put(number: int, cost: int, chosen: list[int]) -> None:
        nonlocal best, tries
        tries += 1
        if best is not None and (cost, 0) >= best[0]:
            return
        if number == len(others):
            found = (cost, max(chosen, default=0))
            if best is None or found < best[0]:
                best = found, list(chosen)
            return
        need, empty = others[number], False
        fits: list[tuple[int, int]] = []
        for bank, there in enumerate(lying):
            if not room.holds(there | need):
                continue
            if not there and not stored[bank]:
                if empty:
                    continue  # empty banks are all alike
                empty = True
            fits.append(((need & ~there & ~stored[bank]).bit_count(), bank))
        for more, bank in sorted(fits):
            if tries > MOST_TRIES and best is not None:
                return
            before = lying[bank]
            lying[bank] = before | need
            put(number + 1, cost + more, [*chosen, bank])
            lying[bank] = before

    put(0, 0, [])
    if best is None:
        return None
    return Banks(way.of_song, tuple(best[1]), exact, aim.by_number)


def _anywhere(sets: Sequence[Songs], others: Sequence[Need], room: Room, aim: Aim) -> Banks | int:
    """Return banks in which everything lies wherever it fits, or how many banks that takes.

    What is there already is looked at first; then as few banks as can be.
    """
    found = _greedy(sets, others, room, aim)
    return _tight(sets, others, room, aim) if found is None else found


def _greedy(sets: Sequence[Songs], others: Sequence[Need], room: Room, aim: Aim) -> Banks | None:
    """Return banks with each song where it takes the least typing, and near the one before."""
    lying = [0] * aim.banks
    stored = [*aim.stored, *[0] * aim.banks]

    def put(need: Need, near: int) -> int | None:
        best: tuple[int, int, int] | None = None
        for bank, there in enumerate(lying):
            if room.holds(there | need):
                cost = (need & ~there & ~stored[bank]).bit_count()
                best = min(best or (cost, abs(bank - near), bank), (cost, abs(bank - near), bank))
        if best is None:
            return None
        lying[best[2]] |= need
        return best[2]

    of_song: list[tuple[int, ...]] = []
    last = 0
    for one in sets:
        way: list[int] = []
        for need in one.needs:
            bank = put(need, last)
            if bank is None:
                return None
            last = bank
            way.append(bank)
        of_song.append(tuple(way))
    of_other: list[int] = []
    for need in others:
        bank = put(need, last)
        if bank is None:
            return None
        of_other.append(bank)
    return Banks(tuple(of_song), tuple(of_other), False, aim.by_number)


def _tight(sets: Sequence[Songs], others: Sequence[Need], room: Room, aim: Aim) -> Banks | int:
    """Return the fewest banks that hold everything; how many they are where there are too few."""
    needs = [need for one in sets for need in one.needs]
    found = fewest_banks([*needs, *others], room)
    if len(found.banks) > aim.banks:
        return len(found.banks)

    # As the night comes to them, so that the foot mostly goes up.
    order: dict[int, int] = {}

    def bank_of(need: Need) -> int:
        at = next(at for at, bank in enumerate(found.banks) if need & bank == need)
        return order.setdefault(at, len(order))

    of_song = tuple(tuple(map(bank_of, one.needs)) for one in sets)
    return Banks(of_song, tuple(map(bank_of, others)), False, aim.by_number)
