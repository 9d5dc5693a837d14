"""Boxes and edges → places in mm: columns from left to right, folded like lines of writing.

Every edge keeps to the gaps between columns, to its own height where it passes one, and to lanes
of its own where a line of columns ends and the next begins; so none runs through a box. Boxes of
a band lie in a strip of their own, with a frame around it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

from setwright.compiler.outputs.drawings.folds import Widths, lines_of
from setwright.compiler.outputs.drawings.order import Columns, in_columns
from setwright.compiler.outputs.drawings.svg import HEAD, Move, Point

BEND = 4.0
"""Width of the part of a gap in which edges bend."""
STRAIGHT = 1.4
"""Least length of the straight ends of an edge; where an arrow points there is more."""
APART = 3.2
"""Between boxes of a column."""
PORTS = 4.0
"""From one edge to the next on a box's side: the height of a label and some air."""
PASSING = 0.8
"""Height that is kept for an edge that passes a column."""
OVER_STRIP, UNDER_STRIP, BESIDE_STRIP = 8.6, 2.4, 1.4
"""Room in a band's frame, above its boxes for two lines of writing."""
STRIPS_APART = 3.5
LANE = 1.6
MOST_LANES = 24.0
"""Room for lanes at one side."""
OVER_LOOP = 3.0
"""How high an edge from a box to itself rises above it."""


class Box(NamedTuple):
    """A box by its ``height``; ``band`` is the strip in which it has to lie, 0 for none."""

    height: float
    band: int = 0


class Edge(NamedTuple):
    """An edge between boxes, by number; ``at_start`` and ``at_end`` are widths of its labels."""

    start: int
    end: int
    at_start: float = 0.0
    at_end: float = 0.0


class End(NamedTuple):
    """Where an edge meets a box; it is on the right side (``side`` 1) or on the left (-1)."""

    at: Point
    side: int


class Way(NamedTuple):
    """How an edge is drawn."""

    begin: Point
    moves: tuple[Move, ...]
    start: End
    end: End


class Strip(NamedTuple):
    """The frame around boxes of a band within one line of columns."""

    band: int
    corner: Point
    size: Point


@dataclass(slots=True)
class Layout:
    """Where everything is; boxes by their upper left corners, with the heights they came to."""

    corners: list[Point] = field(default_factory=list)
    heights: list[float] = field(default_factory=list)
    ways: list[Way] = field(default_factory=list)
    strips: list[Strip] = field(default_factory=list)
    width: float = 0.0
    height: float = 0.0


def laid_out(boxes: Sequence[Box], edges: Sequence[Edge], width: float, room: float) -> Layout:
    """Return the layout of connected ``boxes``, each ``width`` mm wide, within ``room`` mm."""
    return _Maker(boxes, edges, width, room).made()


class _Maker:
    """A layout in the making; ``x`` is where columns begin, ``y`` where the middle of items is."""

    def __init__(
        self, boxes: Sequence[Box], edges: Sequence[Edge], width: float, room: float
    ) -> None:
        self.boxes, self.edges, self.width, self.room = boxes, edges, width, room
        self.columns: Columns = in_columns(
            len(boxes), [(one.start, one.end) for one in edges], [one.band for one in boxes]
        )
        self.column = self.columns.column
        self.looped = {edge.start for edge in edges if edge.start == edge.end}
        self.heights = self._heights()
        self.behind, self.before = self._gaps()
        self.y: dict[int, float] = {}
        self.x: list[float] = []
        self.line: list[int] = []
        self.bottoms: list[float] = []
        self.ports: dict[tuple[int, int], float] = {}

    def made(self) -> Layout:
        self._fold()
        strips = self._set_heights()
        self._plug()
        ways = [self._way(at) for at in range(len(self.edges))]
        corners = [
            (self.x[self.column[one]], self.y[one] - self.heights[one] / 2)
            for one in range(len(self.boxes))
        ]
        right = max((x + self.width for x in self.x), default=0)
        right = max([right, *(corner[0] + size[0] for _, corner, size in strips)])
        for way in ways:
            right = max([right, *(move[-2] for move in way.moves)])
        return Layout(
            corners,
            self.heights[: len(self.boxes)],
            ways,
            strips,
            right + 0.4,
            self.bottoms[-1] if self.bottoms else 0,
        )

    def _heights(self) -> list[float]:
        """Return the height of every item; a box is high enough for all that is plugged in."""
        left: dict[int, int] = {}
        right: dict[int, int] = {}
        for chain in self.columns.chains:
            if chain:
                right[chain[0]] = right.get(chain[0], 0) + 1
                left[chain[-1]] = left.get(chain[-1], 0) + 1
        count = len(self.columns.bands)
        return [
            max(box.height, PORTS * max(left.get(one, 0), right.get(one, 0)))
            + 2 * self._corner(one)
            for one, box in enumerate(self.boxes)
        ] + [PASSING] * (count - len(self.boxes))

    def _gaps(self) -> tuple[list[float], list[float]]:
        """Return how much of each gap, the one behind each column, is straight on either side."""
        count = len(self.columns.rows)
        behind, before = [STRAIGHT] * count, [STRAIGHT] * count
        for at, edge in enumerate(self.edges):
            chain = self.columns.chains[at]
            if not chain:
                continue
            first, last = self.column[chain[0]], self.column[chain[-1]] - 1
            labels = (edge.at_start, edge.at_end)
            heads = (0.8, HEAD + 0.8)
            if at in self.columns.turned:
                labels, heads = labels[::-1], heads[::-1]
            behind[first] = max(behind[first], labels[0] + heads[0])
            before[last] = max(before[last], labels[1] + heads[1])
        return behind, before

    def _crossing(self, at: int) -> int:
        """Return how many edges go from column ``at`` to the next."""
        return sum(
            self.column[chain[0]] <= at < self.column[chain[-1]]
            for chain in self.columns.chains
            if chain
        )

    def _fold(self) -> None:
        """Set where columns begin, in as many lines of columns as are needed."""
        count, behind, before = len(self.columns.rows), self.behind, self.before
        gaps = [behind[at] + BEND + before[at] for at in range(count)]
        inset = 0.4 + (BESIDE_STRIP if any(one.band for one in self.boxes) else 0)
        inset = max(inset, HEAD + 0.7 if self.looped else 0)
        if count * self.width + sum(gaps[:-1]) + 2 * inset <= self.room:
            self.line = [0] * count
            self.x = [inset + at * self.width + sum(gaps[:at]) for at in range(count)]
            return
        lanes = self._lanes(max(self._crossing(at) for at in range(count - 1)))
        start = max(lanes + max(before) + 1.5, inset)
        widths = Widths(
            self.width, tuple(behind), tuple(gaps), start, 1.5 + lanes, inset, self.room
        )
        firsts = lines_of(widths, self._together(count))
        for at in range(count):
            line = bisect_right(firsts, at) - 1
            self.line.append(line)
            self.x.append(start + widths.way(firsts[line], at))

    def _together(self, count: int) -> dict[int, int]:
        """Return for the column before each band the column behind it."""
        spans: dict[int, list[int]] = {}
        for one, band in enumerate(self.columns.bands):
            if band:
                spans.setdefault(band, []).append(self.column[one])
        return {max(min(span) - 1, 0): min(max(span) + 1, count - 1) for span in spans.values()}

    def _lanes(self, count: int) -> float:
        return min(LANE * count, MOST_LANES)

    def _set_heights(self) -> list[Strip]:
        """Set where the middle of every item is; return the frames around bands."""
        # A label at the first edge of a box may rise above it.
        labelled = any(edge.at_start or edge.at_end for edge in self.edges)
        strips, top = list[Strip](), 2.0 if labelled else 0.4
        for line in range(max(self.line, default=-1) + 1):
            columns = [at for at, one in enumerate(self.line) if one == line]
            bands = sorted({self.columns.bands[one] for at in columns for one in self._row(at)})
            for band in bands:
                rows = [
                    [one for one in self._row(at) if self.columns.bands[one] == band]
                    for at in columns
                ]
                self._align(rows)
                inside = [one for row in rows for one in row]
                high = min(self.y[one] - self._air(one) / 2 for one in inside)
                low = max(self.y[one] + self._air(one) / 2 for one in inside)
                shift = top - high + (OVER_STRIP if band else 0)
                for one in inside:
                    self.y[one] += shift
                if band:
                    used = [at for at, row in zip(columns, rows, strict=True) if row]
                    left = self.x[used[0]] - BESIDE_STRIP
                    right = self.x[used[-1]] + self.width + BESIDE_STRIP
                    size = (right - left, OVER_STRIP + low - high + UNDER_STRIP)
                    strips.append(Strip(band, (left, top), size))
                    top += OVER_STRIP + UNDER_STRIP
                top += low - high + STRIPS_APART
            self.bottoms.append(top - STRIPS_APART + 0.4)
            last = columns[-1]
            if last < len(self.line) - 1:
                top += self._lanes(self._crossing(last)) + LANE
        return strips

    def _row(self, at: int) -> list[int]:
        return self.columns.rows[at]

    def _air(self, one: int) -> float:
        """Return the height of an item with what is drawn above it, on both sides alike."""
        return self.heights[one] + (2 * (OVER_LOOP + 0.5) if one in self.looped else 0)

    def _corner(self, one: int) -> float:
        """Return how much of a box's sides an edge to itself keeps from others."""
        return PORTS if one in self.looped else 0.0

    def _align(self, rows: list[list[int]]) -> None:
        """Bring neighbours to the same height as far as those above and below allow."""
        there = {one for row in rows for one in row}
        near: dict[int, list[int]] = {one: [] for one in there}
        for chain in self.columns.chains:
            for left, right in pairwise(chain):
                if left in there and right in there:
                    near[left].append(right)
                    near[right].append(left)
        for row in rows:
            at = -sum(self._air(one) + APART for one in row) / 2
            for one in row:
                self.y[one] = at + self._air(one) / 2
                at += self._air(one) + APART
        sweeps = [(rows[:: 1 - 2 * (at % 2)], near) for at in range(10)]
        # At the last, each goes by those to the left of it alone: so a chain is straight.
        left_of = {
            one: [other for other in others if self.column[other] < self.column[one]]
            for one, others in near.items()
        }
        for order, neighbours in [*sweeps, (rows, left_of)]:
            for row in order:
                wanted = [
                    sum(self.y[other] for other in neighbours[one]) / len(neighbours[one])
                    if neighbours[one]
                    else self.y[one]
                    for one in row
                ]
                steps = [
                    (self._air(one) + self._air(other)) / 2 + APART for one, other in pairwise(row)
                ]
                self.y.update(zip(row, kept_apart(wanted, steps), strict=True))

    def _plug(self) -> None:
        """Set the height at which every edge meets its items: (edge, place in its chain)."""
        sides: dict[tuple[int, int], list[tuple[float, int, int]]] = {}
        for edge, chain in enumerate(self.columns.chains):
            for at, one in enumerate(chain):
                if one >= len(self.boxes):
                    self.ports[edge, at] = self.y[one]
                elif at == 0:
                    sides.setdefault((one, 1), []).append((self._aim(one, chain[1]), edge, at))
                else:
                    sides.setdefault((one, -1), []).append(
                        (self._aim(one, chain[at - 1]), edge, at)
                    )
        for (one, _), plugs in sides.items():
            # As far apart as the box is high, but for one edge, which is in the middle.
            inner = self.heights[one] - 2 * self._corner(one)
            apart = inner / len(plugs)
            top = self.y[one] - inner / 2 + apart / 2
            for place, (_, edge, at) in enumerate(sorted(plugs)):
                self.ports[edge, at] = top + place * apart

    def _aim(self, one: int, other: int) -> float:
        """Return where an edge between two items strives to; around a fold, below all others."""
        here, there = self.line[self.column[one]], self.line[self.column[other]]
        return self.y[other] if here == there else 1e6 + self.y[other]

    def _way(self, edge: int) -> Way:
        chain = self.columns.chains[edge]
        if not chain:
            return self._around(self.edges[edge].start)
        begin = (self.x[self.column[chain[0]]] + self.width, self.ports[edge, 0])
        moves: list[Move] = []
        here = begin
        for at, (left, right) in enumerate(pairwise(chain)):
            column = self.column[left]
            end = (self.x[column + 1], self.ports[edge, at + 1])
            if self.line[column] == self.line[column + 1]:
                moves += self._bent(column, here, end)
            else:
                moves += self._folded(edge, column, here, end)
            here = end
            if right >= len(self.boxes):
                here = (end[0] + self.width, end[1])
                moves.append(here)
        start, stop = End(begin, 1), End(here, -1)
        if edge in self.columns.turned:
            start, stop = stop, start
        return Way(begin, tuple(moves), start, stop)

    def _bent(self, column: int, here: Point, end: Point) -> list[Move]:
        """Return the moves through the gap behind a column."""
        if abs(here[1] - end[1]) < 0.005:
            return [end]
        first, last = here[0] + self.behind[column], end[0] - self.before[column]
        middle = (first + last) / 2
        return [(first, here[1]), (middle, here[1], middle, end[1], last, end[1]), end]

    def _folded(self, edge: int, column: int, here: Point, end: Point) -> list[Move]:
        """Return the moves from the last column of a line to the first one of the next."""
        around = [
            (self.ports[other, at], other)
            for other, chain in enumerate(self.columns.chains)
            for at, left in enumerate(chain[:-1])
            if self.column[left] == column
        ]
        count = len(around)
        place = [other for _, other in sorted(around)].index(edge)
        lane = self._lanes(count) / count
        # The lowest one turns first, runs highest, and comes down farthest to the left: so none
        # of them cross.
        later = count - 1 - place
        right = here[0] + self.behind[column] + 0.8 + later * lane
        level = self.bottoms[self.line[column]] + 0.6 + later * lane
        left = end[0] - self.before[column] - 0.6 - place * lane
        return [(right, here[1]), (right, level), (left, level), (left, end[1]), end]

    def _around(self, one: int) -> Way:
        """Return the way of an edge from a box to itself, over its top."""
        left, right = self.x[self.column[one]], self.x[self.column[one]] + self.width
        top = self.y[one] - self.heights[one] / 2
        height = top + 1.2
        begin = (right, height)
        out, back, over = right + 1.1, left - HEAD - 0.4, top - OVER_LOOP
        moves = ((out, height), (out, over), (back, over), (back, height), (left, height))
        return Way(begin, moves, End(begin, 1), End((left, height), -1))


def kept_apart(wanted: Sequence[float], steps: Sequence[float]) -> list[float]:
    """Return heights nearest to ``wanted``, each at least ``steps`` below the one before.

    Nearest by least squares: with the steps taken away it is isotonic regression, which pooling
    adjacent violators solves exactly (M. Ayer and others, Annals of Mathematical Statistics
    26 (4), 1955).
    """
    offsets = [0.0]
    for step in steps:
        offsets.append(offsets[-1] + step)
    pools: list[tuple[float, int]] = []
    for want, offset in zip(wanted, offsets, strict=False):
        pools.append((want - offset, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (low, many), (high, more) = pools[-2:]
            pools[-2:] = [((low * many + high * more) / (many + more), many + more)]
    flat = [height for height, many in pools for _ in range(many)]
    return [height + offset for height, offset in zip(flat, offsets, strict=False)]
