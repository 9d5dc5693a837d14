"""Ways to fill a bank, and which of them to take: a covering of the songs at the least cost.

A linear program gives a bound from below, a whole-number program the answer where the two differ.
HiGHS solves both, with one thread, fixed seeds and a limit of nodes instead of a clock, so that the
same input gives the same answer everywhere. It is loaded only when it is needed.

Every answer is looked through again here: what is returned covers every song. That nothing was
found within the limit is never taken for a proof that there is nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from setwright.compiler.placement.needs import Need
from setwright.compiler.placement.quiet import quiet

NODES = 2_000
"""Nodes of the whole-number search; the limit is a count, so that results repeat."""

EPSILON = 1e-6
"""What counts as nothing in the floating-point numbers of the solver."""


class NoSolverError(Exception):
    """HiGHS is not installed or does not load; the text is the reason."""


class Covered(NamedTuple):
    """What was found: the ways that are taken (their places), and the least cost there can be.

    ``chosen`` is None where nothing was found within the limit, or where there is nothing, which
    ``bound`` then says by being infinite. ``prices`` are what each song pays
    in the linear program: no way costs less than its songs pay, so all of them together are a
    bound; ``reduced`` what each way costs beyond that.
    """

    chosen: tuple[int, ...] | None
    bound: float
    prices: tuple[float, ...] = ()
    reduced: tuple[float, ...] = ()


@dataclass(slots=True)
class Covering:
    """Songs, ways to fill a bank with what each costs, and limits on further costs, if any.

    ``rows`` holds for each way the songs that it serves; ``further`` the further costs of each
    way, as pairs of a limit (its place in ``limits``) and a cost.
    """

    songs: int
    rows: Sequence[Sequence[int]]
    costs: Sequence[int]
    further: Sequence[Sequence[tuple[int, int]]] = ()
    limits: Sequence[int] = ()

    def relaxed(self) -> Covered:
        """Solve the linear program."""
        solver = self._solver(whole=False)
        solver.run()
        if _status(solver) != "Optimal":
            return Covered(None, math.inf if _status(solver) == "Infeasible" else -math.inf)
        solution = solver.getSolution()
        prices = tuple(solution.row_dual[: self.songs])
        reduced = tuple(solution.col_dual)
        return Covered(None, float(solver.getObjectiveValue()), prices, reduced)

    def solved(self, nodes: int = NODES) -> Covered:
        """Solve the whole-number program."""
        solver = self._solver(whole=True)
        solver.setOptionValue("mip_max_nodes", nodes)
        solver.run()
        if _status(solver) == "Infeasible":
            return Covered(None, math.inf)
        bound = float(solver.getInfo().mip_dual_bound)
        values = solver.getSolution().col_value
        if len(values) != len(self.rows):
            return Covered(None, bound)
        chosen = tuple(at for at, value in enumerate(values) if value > 0.5)
        served = {song for at in chosen for song in self.rows[at]}
        if len(served) != self.songs or not self._is_within(chosen):
            return Covered(None, bound)
        return Covered(chosen, bound)

    def _is_within(self, chosen: Sequence[int]) -> bool:
        """Tell whether what is chosen keeps to every limit."""
        used = [0] * len(self.limits)
        for at in chosen if self.further else ():
            for limit, cost in self.further[at]:
                used[limit] += cost
        return all(one <= most for one, most in zip(used, self.limits, strict=True))

    def _solver(self, *, whole: bool) -> Any:
        highs = _load()
        with quiet():
            solver = highs.Highs()
        for option, value in (
            ("output_flag", False),
            ("threads", 1),
            ("random_seed", 1),
            ("mip_rel_gap", 0.0),
            ("mip_abs_gap", 0.999 if all(cost == int(cost) for cost in self.costs) else 0.0),
        ):
            solver.setOptionValue(option, value)
        solver.passModel(self._model(highs, whole=whole))
        return solver

    def _model(self, highs: Any, *, whole: bool) -> Any:
        import numpy as np

        model = highs.HighsLp()
        model.num_col_, model.num_row_ = len(self.rows), self.songs + len(self.limits)
        model.col_cost_ = np.array(self.costs, dtype=float)
        model.col_lower_ = np.zeros(len(self.rows))
        infinite = highs.kHighsInf
        # Without a bound of its own on each way, the songs alone pay for what is taken.
        most = 1.0 if whole else infinite
        model.col_upper_ = np.full(len(self.rows), most)
        lower, upper = [1.0] * self.songs, [infinite] * self.songs
        starts, index, values = [0], list[int](), list[float]()
        for at, songs in enumerate(self.rows):
            index += songs
            values += [1.0] * len(songs)
            for limit, cost in self.further[at] if self.further else ():
                index.append(self.songs + limit)
                values.append(float(cost))
            starts.append(len(index))
        lower += [-infinite] * len(self.limits)
        upper += map(float, self.limits)
        model.row_lower_, model.row_upper_ = np.array(lower), np.array(upper)
        model.a_matrix_.format_ = highs.MatrixFormat.kColwise
        model.a_matrix_.start_ = np.array(starts, dtype=np.int32)
        model.a_matrix_.index_ = np.array(index, dtype=np.int32)
        model.a_matrix_.value_ = np.array(values, dtype=float)
        if whole:
            model.integrality_ = [highs.HighsVarType.kInteger] * len(self.rows)
        return model


def served_by(ways: Sequence[Need], needs: Sequence[Need]) -> list[list[int]]:
    """Return for each way to fill a bank the places of the needs that lie within it."""
    # What lies within a way has its first preset there, so few needs have to be looked at.
    by_first: dict[int, list[int]] = {}
    for at, need in enumerate(needs):
        by_first.setdefault(need & -need, []).append(at)
    rows = []
    for way in ways:
        row, left = [], way
        while left:
            lowest = left & -left
            left ^= lowest
            row += [at for at in by_first.get(lowest, ()) if needs[at] & way == needs[at]]
        rows.append(sorted(row))
    return rows


def rounded_up(bound: float) -> int:
    """Return the least whole number that is not below ``bound``, but for what counts as nothing.

    0 where the solver knows of no bound.
    """
    if not math.isfinite(bound):
        return 0
    return math.ceil(bound - 1e-4)


def _status(solver: Any) -> str:
    return str(solver.modelStatusToString(solver.getModelStatus()))


def _load() -> Any:
    try:
        import highspy
    except ImportError as error:
        raise NoSolverError(str(error)) from error
    return highspy
