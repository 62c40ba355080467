"""Which of all trips met on the way make the cheapest plan? A set partitioning, by HiGHS.

Good plans of several starts are alike in places and unlike in others; the program takes the best of
each (the pattern "pool of routes, then a program over the pool" of routing matheuristics).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import NamedTuple

import highspy
import numpy as np

from schedules.visits.model import Trip
from schedules.visits.problem import Arrays, Problem
from schedules.visits.search.state import State
from schedules.visits.solver import silent_solver

__all__ = ["Pool"]

_MOST = 20_000
"""So many trips are kept; later ones are left out."""
_NODES = 400
"""The program is given up after so many nodes; the best found by then counts."""


class Met(NamedTuple):
    """A trip that was met; needs by number, in the order they are served."""

    cents: int
    technician: int
    start: int
    end: int
    needs: tuple[int, ...]


class Pool:
    """Trips met on the way: of those that serve the same needs on the same days the cheapest."""

    def __init__(self, problem: Problem) -> None:
        self._problem, self._class_of = problem, _classes(problem)
        self._met: dict[tuple[int, frozenset[int], int, int], Met] = {}

    def __len__(self) -> int:
        return len(self._met)

    def add(self, s: State) -> None:
        """Take in the trips of a state; those that stand as they are, are none to choose."""
        for row in np.flatnonzero(s.counts).tolist():
            if s.is_fixed[row]:
                continue
            needs = tuple(s.needs[row, : s.counts[row]].tolist())
            who, start, end = int(s.technician[row]), int(s.start[row]), int(s.end[row])
            key = self._class_of[who], frozenset(needs), start, end
            known = self._met.get(key)
            if (known is None and len(self) < _MOST) or (known and s.cents[row] < known.cents):
                self._met[key] = Met(int(s.cents[row]), who, start, end, needs)

    def cheapest(self, absent_cents: int) -> list[Trip]:
        """The trips of the cheapest plan of the pool; a need without a trip costs absent_cents."""
        met = list(self._met.values())
        solver = self._program(met, absent_cents)
        solver.run()
        values = solver.getSolution().col_value
        return self._named(one for one, value in zip(met, values, strict=False) if value > 0.5)

    def _program(self, met: list[Met], absent_cents: int) -> highspy.Highs:
        """Rows: each need once, unless it is absent; of each class no more out than there are."""
        a = self._problem.arrays
        needs, days = len(a.site), len(a.week)
        fixed = {name for trip in self._problem.lock.confirmed for name in trip.needs}
        free = [n for n in range(needs) if self._problem.order.needs[n].name not in fixed]
        row_of = {need: row for row, need in enumerate(free)}
        solver = silent_solver()
        solver.setOptionValue("mip_max_nodes", _NODES)
        far = highspy.kHighsInf
        for _ in free:
            solver.addRow(1.0, 1.0, 0, [], [])
        for members in _members(self._class_of).values():
            for day in range(days):
                out = sum(bool(a.works[member, day]) for member in members)
                solver.addRow(-far, float(out), 0, [], [])
        for one in met:
            first = len(free) + self._class_of[one.technician] * days
            rows = [*(row_of[n] for n in one.needs), *range(first + one.start, first + one.end + 1)]
            solver.addCol(float(one.cents), 0.0, 1.0, len(rows), rows, [1.0] * len(rows))
        for row in row_of.values():
            solver.addCol(float(absent_cents), 0.0, 1.0, 1, [row], [1.0])
        for column in range(len(met) + len(free)):
            solver.changeColIntegrality(column, highspy.HighsVarType.kInteger)
        return solver

    def _named(self, some: Iterable[Met]) -> list[Trip]:
        """Chosen trips, each with a member of its class that is free: always, by their starts."""
        order, days = self._problem.order, self._problem.days
        members, until = _members(self._class_of), defaultdict[int, int](lambda: -1)
        trips = []
        for one in sorted(some, key=lambda met: (met.start, met.technician)):
            who = next(m for m in members[self._class_of[one.technician]] if until[m] < one.start)
            until[who] = one.end
            names = tuple(order.needs[need].name for need in one.needs)
            trips.append(Trip(order.technicians[who].technician, days[one.start], names))
        return trips


def _classes(problem: Problem) -> list[int]:
    """A number for each technician, the same for those who can do the same trips.

    Where trips are confirmed each is a class of one, for then some days are taken already.
    """
    a = problem.arrays
    technicians = range(len(a.depot))
    if problem.lock.confirmed:
        return list(technicians)
    known: dict[tuple[object, ...], int] = {}
    return [known.setdefault(_ability(a, one), len(known)) for one in technicians]


def _ability(a: Arrays, technician: int) -> tuple[object, ...]:
    return (
        int(a.depot[technician]),
        int(a.day_minutes[technician]),
        int(a.max_nights[technician]),
        a.works[technician].tobytes(),
        a.may_serve[technician].tobytes(),
    )


def _members(class_of: list[int]) -> dict[int, list[int]]:
    members: dict[int, list[int]] = {}
    for technician, number in enumerate(class_of):
        members.setdefault(number, []).append(technician)
    return members
