"""When there is no time to type it all: what to type first, and what to press instead of the rest.

Each preset is worth as many presses as the night has of it, and costs what it takes to type it from
what is there. A knapsack says which are taken where each is typed by itself; as copies of one
another leave some seconds, it is filled up with what is worth most for its time. Filling up from
nothing may be better, and the better of the two is taken. It is a good choice, and no proven best.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from setwright.compiler.lowering.preset import Address
from setwright.compiler.placement.entries import EMPTY, Entry, Sheet, distance, entries
from setwright.compiler.placement.typing_order import Step, typing_order


class Pace(NamedTuple):
    """How fast somebody types: seconds an entry, and seconds more for each preset."""

    entry: int
    preset: int

    def of(self, steps: Sequence[Step]) -> int:
        """Return the seconds that ``steps`` take."""
        return sum(self.preset + self.entry * len(step.entries) for step in steps)


class Instead(NamedTuple):
    """What to press where a preset is not typed: the nearest that is there, and what differs."""

    address: Address
    wanted: Sheet
    press: Address | None
    differs: tuple[Entry, ...]


class Hurried(NamedTuple):
    """What to type within the time; what to press for the rest; and how many presses are right."""

    steps: tuple[Step, ...]
    seconds: int
    instead: tuple[Instead, ...]
    right: int
    presses: int


def hurried(
    wanted: Mapping[Address, Sheet],
    there: Mapping[Address, Sheet],
    presses: Mapping[Address, int],
    seconds: int,
    pace: Pace,
    *,
    copies: bool,
) -> Hurried:
    """Return what to type of ``wanted`` in so many ``seconds``; ``presses`` are the night's."""
    todo = {at: one for at, one in wanted.items() if there.get(at) != one}
    cost = _Cost(todo, there, pace, copies=copies)
    worth = {at: presses.get(at, 0) for at in todo}
    alone = _knapsack({at: cost.of(at, ()) for at in todo}, worth, seconds)
    chosen = max(
        (
            _filled_up(begin, cost, worth, seconds - cost.together(begin))
            for begin in (alone, list[Address]())
        ),
        key=lambda some: sum(worth[at] for at in some),
    )
    while True:
        steps = _steps(chosen, wanted, there, copies=copies)
        # In the best order they take less time than one behind the other.
        more = _filled_up(chosen, cost, worth, seconds - pace.of(steps))
        if more == chosen:
            break
        chosen = more
    now = {**there, **{at: wanted[at] for at in chosen}}
    held = {at: one for at, one in now.items() if at in chosen or at not in todo}
    instead = tuple(_nearest(at, one, held) for at, one in sorted(todo.items()) if at not in chosen)
    left = {one.address for one in instead}
    total = sum(presses.values())
    right = sum(count for at, count in presses.items() if at not in left)
    return Hurried(tuple(steps), pace.of(steps), instead, right, total)


class _Cost:
    """What presets cost to type, each from what is there or as a copy of one that is typed."""

    def __init__(
        self,
        todo: Mapping[Address, Sheet],
        there: Mapping[Address, Sheet],
        pace: Pace,
        *,
        copies: bool,
    ) -> None:
        self._todo, self._pace, self._copies = todo, pace, copies
        sources = [one for at, one in there.items() if at not in todo] if copies else []
        self._alone = {
            at: min(distance(other, one) for other in (there.get(at, EMPTY), *sources))
            for at, one in todo.items()
        }
        self._between: dict[tuple[Address, Address], int] = {}

    def of(self, at: Address, typed: Sequence[Address]) -> int:
        """Return the seconds that ``at`` takes once ``typed`` are there."""
        near = min((self._apart(at, one) for one in typed), default=self._alone[at])
        entries = min(near, self._alone[at]) if self._copies else self._alone[at]
        return self._pace.preset + self._pace.entry * entries

    def together(self, chosen: Sequence[Address]) -> int:
        """Return the seconds that ``chosen`` take, typed in this order."""
        return sum(self.of(at, chosen[:number]) for number, at in enumerate(chosen))

    def _apart(self, one: Address, other: Address) -> int:
        pair = (min(one, other), max(one, other))
        if pair not in self._between:
            self._between[pair] = distance(self._todo[one], self._todo[other])
        return self._between[pair]


def _steps(
    chosen: Sequence[Address],
    wanted: Mapping[Address, Sheet],
    there: Mapping[Address, Sheet],
    *,
    copies: bool,
) -> list[Step]:
    kept = {at: one for at, one in there.items() if at in chosen or wanted.get(at, one) == one}
    return typing_order({at: wanted[at] for at in chosen}, kept, copies=copies)


def _knapsack(
    cost: Mapping[Address, int], worth: Mapping[Address, int], seconds: int
) -> list[Address]:
    """Return what is worth most within the time; of equal choices, the one that comes first."""
    best: list[tuple[int, tuple[Address, ...]]] = [(0, ())] * (seconds + 1)
    for at in sorted(cost):
        if not worth[at]:
            continue
        for left in range(seconds, cost[at] - 1, -1):
            before, chosen = best[left - cost[at]]
            if before + worth[at] > best[left][0]:
                best[left] = (before + worth[at], (*chosen, at))
    return list(best[seconds][1])


def _filled_up(
    chosen: list[Address], cost: _Cost, worth: Mapping[Address, int], left: int
) -> list[Address]:
    """Return ``chosen`` and what fits into ``left`` seconds, what is worth most for them first."""
    chosen = list(chosen)
    while True:
        more = {at: cost.of(at, chosen) for at in worth if at not in chosen}
        fits = [at for at, one in more.items() if one <= left]
        if not fits:
            return chosen
        at = max(fits, key=lambda one: (worth[one] / max(more[one], 1), -one.bank, -one.switch))
        chosen.append(at)
        left -= more[at]


def _nearest(at: Address, wanted: Sheet, held: Mapping[Address, Sheet]) -> Instead:
    """Return the nearest preset that is there, one of the same bank if it is as near."""
    best = min(
        held,
        key=lambda one: (
            distance(held[one]._replace(name=""), wanted._replace(name="")),
            one.bank != at.bank,
            one,
        ),
        default=None,
    )
    if best is None:
        return Instead(at, wanted, None, ())
    differs = entries(held[best]._replace(name=""), wanted._replace(name=""))
    return Instead(at, wanted, best, differs)
