"""In which order presets are typed, and of which each begins as a copy: the least in all.

Presets are places, the entries that two of them are apart are the ways between them, and what is
there already is where all ways begin: a minimum spanning tree (Prim's way of growing one, in any
textbook of algorithms). As two presets are as many entries apart in either direction, it is also
the least of all orders in which each is typed from one that is there.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping
from typing import NamedTuple

from setwright.compiler.lowering.preset import Address
from setwright.compiler.placement.entries import EMPTY, Entry, Sheet, distance, entries


class Step(NamedTuple):
    """One preset to type.

    ``copy`` is the address that it is copied from; without one it is typed over what lies there
    (``known``), or from nothing, where nobody knows that or where it is more to change.
    """

    address: Address
    wanted: Sheet
    copy: Address | None
    known: bool
    entries: tuple[Entry, ...]


def typing_order(
    wanted: Mapping[Address, Sheet], there: Mapping[Address, Sheet], *, copies: bool
) -> list[Step]:
    """Return what to type of ``wanted``, in an order in which it takes the least entries.

    ``there`` is what the switcher holds, as far as that is known; what lies at an address that is
    not to be typed again may be copied, if it can copy.
    """
    todo = {at: one for at, one in sorted(wanted.items()) if there.get(at) != one}
    sources = {at: one for at, one in sorted(there.items()) if at not in todo} if copies else {}
    begin: dict[Address, tuple[int, Address | None]] = {}
    for at, one in todo.items():
        best: tuple[int, Address | None] = (distance(_lies(there, at, one), one), None)
        for other, lies in sources.items():
            if (cost := distance(lies, one)) < best[0]:
                best = (cost, other)
        begin[at] = best
    if copies:
        _grow(todo, begin)
    return _in_order(todo, there, begin)


def _lies(there: Mapping[Address, Sheet], at: Address, wanted: Sheet) -> Sheet:
    """Return what a preset begins as where it is no copy: what lies there, or nothing."""
    lies = there.get(at, EMPTY)
    return lies if distance(lies, wanted) <= distance(EMPTY, wanted) else EMPTY


def _grow(todo: dict[Address, Sheet], begin: dict[Address, tuple[int, Address | None]]) -> None:
    """Let each preset begin from the one of those before that is nearest."""
    waiting = dict(todo)
    while waiting:
        at = min(waiting, key=lambda one: (begin[one][0], one))
        here = waiting.pop(at)
        for other, one in waiting.items():
            cost, source = begin[other]
            found = distance(here, one)
            # Of copies that are as near, the one from the same bank.
            nearer = source is not None and source.bank != other.bank and at.bank == other.bank
            if found < cost or (found == cost and nearer):
                begin[other] = (found, at)


def _in_order(
    todo: dict[Address, Sheet],
    there: Mapping[Address, Sheet],
    begin: dict[Address, tuple[int, Address | None]],
) -> list[Step]:
    """Return the steps bank by bank, as far as each comes behind what it is copied from."""
    after: dict[Address, list[Address]] = {}
    ready: list[Address] = []
    for at, (_, source) in begin.items():
        if source in todo and source is not None:
            after.setdefault(source, []).append(at)
        else:
            ready.append(at)
    heapq.heapify(ready)
    steps: list[Step] = []
    bank = -1
    while ready:
        # Stay in this bank as long as there is something to do in it.
        at = min(ready, key=lambda one: (one.bank != bank, one))
        ready.remove(at)
        bank = at.bank
        source = begin[at][1]
        lies = _lies(there, at, todo[at])
        known = lies is there.get(at) or source is not None
        if source is not None:
            lies = todo[source] if source in todo else there[source]
        steps.append(Step(at, todo[at], source, known, entries(lies, todo[at])))
        ready += after.get(at, [])
    return steps
