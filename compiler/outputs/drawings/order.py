"""A directed graph → columns: how far to the right each box stands, and above which other.

The method is that of K. Sugiyama, S. Tagawa, M. Toda, *Methods for Visual Understanding of
Hierarchical System Structures*, IEEE Transactions on Systems, Man, and Cybernetics 11 (2), 1981:
turn the edges that close a circle round, put each box behind all that lead to it (longest path),
break long edges at every column that they pass, and order each column by the barycentres of its
neighbours. Whatever the graph is, it ends.
"""

from __future__ import annotations

from bisect import bisect_right, insort
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

SWEEPS = 8
"""So often the columns are gone through, there and back; what crosses least is kept."""


@dataclass(slots=True)
class Columns:
    """Boxes and passing edges in columns; all are known by number, boxes come first.

    ``chains`` are the numbers that each edge joins, from left to right; an edge from a box to
    itself has none. ``turned`` are the edges whose chain leads from their end to their start.
    ``rows`` has the numbers in each column, from top to bottom.
    """

    rows: list[list[int]]
    chains: list[list[int]]
    turned: frozenset[int]
    bands: list[int] = field(default_factory=list)

    @property
    def column(self) -> dict[int, int]:
        """The column of every number."""
        return {one: at for at, row in enumerate(self.rows) for one in row}


def in_columns(count: int, edges: Sequence[tuple[int, int]], bands: Sequence[int]) -> Columns:
    """Return ``count`` boxes in columns; ``bands`` tells of each in which band it has to lie."""
    turned = _closing(count, edges)
    steps = [
        (end, start) if at in turned else (start, end) for at, (start, end) in enumerate(edges)
    ]
    column = _longest(count, [step for step in steps if step[0] != step[1]])
    all_bands, chains = list(bands), list[list[int]]()
    places = list(column)
    for start, end in steps:
        if start == end:
            chains.append([])
            continue
        chain = [start]
        for at in range(column[start] + 1, column[end]):
            chain.append(len(places))
            places.append(at)
            all_bands.append(bands[start] if bands[start] == bands[end] else 0)
        chains.append([*chain, end])
    rows: list[list[int]] = [[] for _ in range(max(places, default=-1) + 1)]
    for one, at in enumerate(places):
        rows[at].append(one)
    return Columns(_ordered(rows, chains, all_bands), chains, turned, all_bands)


def _closing(count: int, edges: Sequence[tuple[int, int]]) -> frozenset[int]:
    """Return the edges that lead back to a box on the way to them: without them, no circles."""
    onward: list[list[tuple[int, int]]] = [[] for _ in range(count)]
    for at, (start, end) in enumerate(edges):
        onward[start].append((at, end))
    state = [0] * count
    closing = set()
    entered = {end for start, end in edges if start != end}
    # What nothing leads to comes first, so that a circle is entered where the signal enters it.
    for first in sorted(range(count), key=lambda one: one in entered):
        if state[first]:
            continue
        state[first] = 1
        stack = [(first, iter(onward[first]))]
        while stack:
            here, rest = stack[-1]
            following = next(rest, None)
            if following is None:
                state[here] = 2
                stack.pop()
                continue
            at, end = following
            if state[end] == 1 and end != here:
                closing.add(at)
            elif state[end] == 0:
                state[end] = 1
                stack.append((end, iter(onward[end])))
    return frozenset(closing)


def _longest(count: int, steps: Sequence[tuple[int, int]]) -> list[int]:
    """Return the column of every box; what nothing leads to stands close to what it leads to."""
    onward: list[list[int]] = [[] for _ in range(count)]
    waits = [0] * count
    for start, end in steps:
        onward[start].append(end)
        waits[end] += 1
    first = [one for one in range(count) if not waits[one]]
    column, ready = [0] * count, list(first)
    while ready:
        here = ready.pop()
        for end in onward[here]:
            column[end] = max(column[end], column[here] + 1)
            waits[end] -= 1
            if not waits[end]:
                ready.append(end)
    for one in first:
        if onward[one]:
            column[one] = min(column[end] for end in onward[one]) - 1
    return column


def _ordered(
    rows: list[list[int]], chains: Sequence[Sequence[int]], bands: Sequence[int]
) -> list[list[int]]:
    before: dict[int, list[int]] = {}
    behind: dict[int, list[int]] = {}
    for chain in chains:
        for left, right in pairwise(chain):
            behind.setdefault(left, []).append(right)
            before.setdefault(right, []).append(left)
    rows = [sorted(row, key=lambda one: bands[one]) for row in rows]
    best, least = rows, _crossings(rows, behind)
    for sweep in range(SWEEPS):
        if not least:
            break
        there = sweep % 2 == 0
        rows = [list(row) for row in rows]
        columns = range(1, len(rows)) if there else range(len(rows) - 2, -1, -1)
        for at in columns:
            beside = rows[at - 1] if there else rows[at + 1]
            heights = {one: height for height, one in enumerate(beside)}
            neighbours = before if there else behind
            keys = {}
            for height, one in enumerate(rows[at]):
                near = [heights[other] for other in neighbours.get(one, ())]
                keys[one] = (bands[one], sum(near) / len(near) if near else height)
            rows[at].sort(key=keys.__getitem__)
        crossings = _crossings(rows, behind)
        if crossings < least:
            best, least = rows, crossings
    return best


def _crossings(rows: list[list[int]], behind: dict[int, list[int]]) -> int:
    """Return how many pairs of edges cross between neighbouring columns."""
    total = 0
    for left, right in pairwise(rows):
        heights = {one: height for height, one in enumerate(right)}
        seen: list[int] = []
        for one in left:
            ends = sorted(heights[other] for other in behind.get(one, ()))
            total += sum(len(seen) - bisect_right(seen, end) for end in ends)
            for end in ends:
                insort(seen, end)
    return total
