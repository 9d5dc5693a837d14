"""When there is no time to type it all: what to type first, and what to press instead of the rest.

Each preset is worth as many presses as the night has of it, and costs what it takes to type it from
what is there. A knapsack, filled exactly to the second, says which are taken; copies of one another
may then leave some seconds, which are filled again.
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
    sources = [one for at, one in there.items() if at not in todo] if copies else []
    cost = {}
    for at, one in todo.items():
        ways = [distance(there.get(at, EMPTY), one)]
        ways += [distance(other, one) for other in sources]
        cost[at] = pace.preset + pace.entry * min(ways)
    chosen = _knapsack(cost, {at: presses.get(at, 0) for at in todo}, seconds)
    chosen = _filled_up(chosen, todo, wanted, there, presses, seconds, pace, copies=copies)
    steps = _steps(chosen, wanted, there, copies=copies)
    now = {**there, **{at: wanted[at] for at in chosen}}
    held = {at: one for at, one in now.items() if at in chosen or at not in todo}
    instead = tuple(_nearest(at, one, held) for at, one in sorted(todo.items()) if at not in chosen)
    left = {one.address for one in instead}
    total = sum(presses.values())
    right = sum(count for at, count in presses.items() if at not in left)
    return Hurried(tuple(steps), pace.of(steps), instead, right, total)


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
    chosen: list[Address],
    todo: Mapping[Address, Sheet],
    wanted: Mapping[Address, Sheet],
    there: Mapping[Address, Sheet],
    presses: Mapping[Address, int],
    seconds: int,
    pace: Pace,
    *,
    copies: bool,
) -> list[Address]:
    """Return ``chosen`` with what fits in besides, once some are copies of others."""
    rest = sorted((at for at in todo if at not in chosen), key=lambda at: (-presses.get(at, 0), at))
    for at in rest:
        more = [*chosen, at]
        if pace.of(_steps(more, wanted, there, copies=copies)) <= seconds:
            chosen = more
    return chosen


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
