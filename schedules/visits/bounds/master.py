"""Which duals suit the trips known so far? The linear program of the set covering, by HiGHS."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import highspy
import numpy as np
import numpy.typing as npt

from schedules.visits.bounds.pricing import Column
from schedules.visits.bounds.segments import PARTS
from schedules.visits.problem import Flags, Ints
from schedules.visits.solver import silent_solver

__all__ = ["Master", "Solved"]

Reals = npt.NDArray[np.float64]


class Solved(NamedTuple):
    """A solution: its value (cents), the worth of needs (N,) and class-days, columns' shares."""

    value: float
    worth: Reals
    day_worth: Reals
    share: Reals


class Master:
    """The master problem; it grows by columns.

    Rows: each wanted need at least once (an artificial column at `penalty` cents serves it too);
    of each class at most so many technicians out on an axis day as work on it.
    """

    def __init__(self, wanted: Flags, working: Ints, penalty: Sequence[float]) -> None:
        self.wanted, self.shape = wanted, working.shape
        self.row_of = np.cumsum(wanted) - 1
        self.needs = int(wanted.sum())
        self.columns: list[Column] = []
        self.known: dict[tuple[object, ...], int] = {}
        self.solver = silent_solver()
        self.solver.setOptionValue("simplex_strategy", 4)
        far = highspy.kHighsInf
        for _ in range(self.needs):
            self.solver.addRow(1.0, far, 0, [], [])
        for count in working.ravel().tolist():
            self.solver.addRow(-far, float(count), 0, [], [])
        for row, price in enumerate(penalty):
            self.solver.addCol(float(price), 0.0, far, 1, [row], [1.0])

    def add(self, columns: Iterable[Column]) -> int:
        """Take columns in; how many were new or cheaper than before."""
        fresh = 0
        for one in columns:
            key = (one.kind, one.first, one.last, one.needs)
            if self.known.get(key, one.price + 1) <= one.price:
                continue
            self.known[key] = one.price
            self.columns.append(one)
            fresh += 1
            rows = [int(self.row_of[need]) for need, _ in one.needs]
            shares = [float(count) for _, count in one.needs]
            days = range(one.first, one.last + 1)
            rows += [self.needs + one.kind * self.shape[1] + day for day in days]
            shares += [1.0] * len(days)
            price = one.price / PARTS
            self.solver.addCol(price, 0.0, highspy.kHighsInf, len(rows), rows, shares)
        return fresh

    def drop(self, numbers: Iterable[int]) -> None:
        """Take columns out by number; a column that comes back is a new one."""
        for number in numbers:
            one = self.columns[number]
            self.known.pop((one.kind, one.first, one.last, one.needs), None)
            self.solver.changeColBounds(self.needs + number, 0.0, 0.0)

    def solve(self) -> Solved:
        """Solve as it stands."""
        self.solver.run()
        solution = self.solver.getSolution()
        duals = np.array(solution.row_dual)
        worth = np.zeros(len(self.wanted))
        worth[self.wanted] = np.maximum(duals[: self.needs], 0.0)
        return Solved(
            float(self.solver.getInfo().objective_function_value),
            worth,
            np.minimum(duals[self.needs :], 0.0).reshape(self.shape),
            np.array(solution.col_value)[self.needs :],
        )
