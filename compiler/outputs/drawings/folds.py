"""Where a row of columns is folded so that it stays within the width of a page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple


class Widths(NamedTuple):
    """Widths in mm: of each column, and of what is beside it.

    ``behind`` is the straight part of the gap behind each column, ``gaps`` the whole of it;
    ``start`` where lines begin, ``turn`` what is needed to turn at the end of one, ``margin`` the
    end of the last one; ``room`` is how wide all of it may be.
    """

    column: float
    behind: tuple[float, ...]
    gaps: tuple[float, ...]
    start: float
    turn: float
    margin: float
    room: float

    def way(self, first: int, last: int) -> float:
        """Return how far one column is from another in the same line."""
        return (last - first) * self.column + sum(self.gaps[first:last])

    def fits(self, first: int, last: int) -> bool:
        """Tell whether the columns from ``first`` to ``last`` can stand in one line."""
        ends = last == len(self.gaps) - 1
        behind = self.margin if ends else self.behind[last] + self.turn
        return self.start + self.way(first, last) + self.column + behind <= self.room


def lines_of(widths: Widths, together: Mapping[int, int]) -> list[int]:
    """Return the column with which each line begins; there are as few lines as there can be.

    ``together`` tells which columns, from one to another, stand in one line if they can. No line
    has more columns than are needed for so many lines, so that they are of a length.
    """
    firsts = _lines(widths, together, len(widths.gaps))
    kept = [last - first + 1 for first, last in together.items() if widths.fits(first, last)]
    for most in range(max(kept, default=1), len(widths.gaps)):
        shorter = _lines(widths, together, most)
        if len(shorter) <= len(firsts):
            return shorter
    return firsts


def _lines(widths: Widths, together: Mapping[int, int], most: int) -> list[int]:
    firsts = [0]
    for at in range(1, len(widths.gaps)):
        first, last = firsts[-1], together.get(at, at)

        def stand(begin: int, end: int) -> bool:
            return widths.fits(begin, end) and end - begin < most

        if not stand(first, at) or (not stand(first, last) and stand(at, last)):
            firsts.append(at)
    return firsts
