"""What can no plan cost less than? Column generation over trips, and the Lagrangian bound of it.

A plan is a choice of trips that serve every need and keep each technician to one trip a day. Give
each need a worth of w >= 0 and each day of a class of technicians a price of -v >= 0. For every
plan of trips j that serves all needs and uses at most T technicians of a class on a day

    cost = sum c_j >= sum w + sum T v + sum over trips (c_j - their needs' w - their days' v)

because a need's w counts at least once and v <= 0 counts at most T times. The last sum is made up
of what each technician does in each stretch of days of one week (`segments`), and is at least the
cheapest choice of trips there that share no day (`pricing.packed`). So every (w, v) gives a valid
bound, whether the search for the best of them has ended or not (Lübbecke and Desrosiers, "Selected
topics in column generation", Operations Research 53(6), 2005). The search: the duals of a linear
program of trips met so far, smoothed towards the best (w, v) (Wentges, "Weighted Dantzig-Wolfe
decomposition for linear mixed-integer programming", International Transactions in Operational
Research 4(2), 1997). All sums of the bound are whole numbers (`segments.PARTS`).
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from schedules.visits.bounds.master import Master, Solved
from schedules.visits.bounds.memory import first_memory, grown, is_allowed, memory_of
from schedules.visits.bounds.pricing import Column, packed, price
from schedules.visits.bounds.routes import Labels, Memory, empty_labels
from schedules.visits.bounds.segments import (
    PARTS,
    Classes,
    Ground,
    cheapest_lone_trips,
    ground,
    shortened,
)
from schedules.visits.model import Plan, Trip
from schedules.visits.problem import Arrays, Cents, Flags, Problem
from schedules.visits.walk import end_day, home_at, trip_cents

__all__ = ["RULE", "Bound", "lower_bound"]

RULE: Final = (
    "trips begin at the start of a day and end in the same week, and every need that a trip can"
    " serve is served"
)
_ROOM = 3_000_000
"""So many labels are kept at once; a segment that needs more is bounded more coarsely."""
_NEAR, _OWN = 5, 6
"""At first the needs of so many near sites are remembered, of each so many."""
_GRID, _MOST = 5, 10
"""Minutes of a cell of the completion bound; columns taken of a segment and round."""
_FEW = 60
"""Fewer new columns than this from the quick pricing, and the exact one follows."""
_END = 1e-5
"""Nearer than this share of the program's value, a bound counts as converged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """No plan costs less than cents, for the rule and without the needs left out.

    rounds: as many were done; is_converged: more would not have raised it. left_out: needs that no
    trip of their own can serve, by name; they cost nothing here.
    """

    cents: int
    rounds: int
    is_converged: bool
    rule: str
    left_out: tuple[str, ...]


def lower_bound(problem: Problem, *, rounds: int, start: Plan | None = None) -> Bound:
    """The bound after at most so many rounds of pricing; start: a plan whose trips are known."""
    a = shortened(problem.arrays)
    lone, columns = _lone_trips(a)
    wanted: Flags = (lone >= 0) & (a.minutes > 0)
    names = [need.name for need in problem.order.needs]
    left_out = tuple(names[need] for need in np.flatnonzero(~wanted))
    if not wanted.any():
        return Bound(cents=0, rounds=0, is_converged=True, rule=RULE, left_out=left_out)
    columns = [one for one in columns if wanted[one.needs[0][0]]]
    columns += [_column(problem, trip) for trip in (start.trips if start else ())]
    search = _Search(a, wanted, lone, [one for one in columns if _is_wanted(one, wanted)])
    done, is_converged = search.run(rounds)
    cents = max(0, search.best // PARTS)
    return Bound(cents=cents, rounds=done, is_converged=is_converged, rule=RULE, left_out=left_out)


def _is_wanted(column: Column, wanted: Flags) -> bool:
    return all(wanted[need] for need, _ in column.needs)


def _lone_trips(a: Arrays) -> tuple[Cents, list[Column]]:
    """What the cheapest trip for each need alone costs (-1: there is none), and those trips."""
    classes, needs = Classes(a), len(a.site)
    lone = np.full(needs, -1, dtype=np.int64)
    columns: list[Column] = []
    for kind, member in enumerate(classes.members):
        cents, starts = np.empty(needs, dtype=np.int64), np.empty(needs, dtype=np.int32)
        cheapest_lone_trips(a, member, cents, starts)
        for need in np.flatnonzero(cents >= 0).tolist():
            first = int(starts[need])
            last = _end(a, member, first, np.array([need], dtype=np.int32))
            columns.append(Column(int(cents[need]) * PARTS, kind, first, last, ((need, 1),)))
        is_less = (cents >= 0) & ((lone < 0) | (cents < lone))
        lone[is_less] = cents[is_less]
    return lone, columns


def _end(a: Arrays, technician: int, start: int, needs: np.ndarray) -> int:
    begins = np.zeros(len(needs), dtype=np.int32)
    return end_day(a, technician, start, home_at(a, technician, start, needs, len(needs), begins))


def _column(problem: Problem, trip: Trip) -> Column:
    """A plan's trip; announced days count as in the problem."""
    technician, start, numbers = problem.numbered(trip)
    a, needs = problem.arrays, np.array(numbers, dtype=np.int32)
    begins = np.zeros(len(needs), dtype=np.int32)
    cents = trip_cents(a, technician, start, needs, len(needs), begins)
    kind = Classes(a).kind_of[technician]
    served = tuple(sorted((need, 1) for need in numbers))
    return Column(cents * PARTS, kind, start, _end(a, technician, start, needs), served)


@dataclass
class _Search:
    """The rounds of column generation; `best` is the highest bound met, in PARTS of a cent."""

    a: Arrays
    wanted: Flags
    lone: Cents
    columns: list[Column]
    best: int = -(10**18)
    centre: tuple[Cents, Cents] | None = None
    grounds: list[Ground] = field(default_factory=list)
    knows: list[Flags] = field(default_factory=list)
    memories: list[Memory] = field(default_factory=list)

    def __post_init__(self) -> None:
        classes = Classes(self.a)
        self.working = classes.working
        self.master = Master(
            self.wanted, self.working, [2.0 * cents for cents in self.lone[self.wanted].tolist()]
        )
        self.master.add(self.columns)
        for segment in classes.segments:
            made = ground(self.a, classes.members[segment.kind], segment, self.wanted)
            if made is not None:
                self.grounds.append(made)
        self.knows = [first_memory(one, _NEAR, _OWN) for one in self.grounds]
        self.memories = [
            memory_of(one, known) for one, known in zip(self.grounds, self.knows, strict=True)
        ]
        self.labels: Labels = empty_labels(_ROOM)

    def run(self, rounds: int) -> tuple[int, bool]:
        """Do so many rounds or fewer; how many, and whether no more would raise the bound."""
        for done in range(rounds):
            solved = self.master.solve()
            if self.best / PARTS >= solved.value * (1 - _END):
                if not self._remember_more(solved):
                    return done, True
                continue
            worth, day_worth = self._smoothed(solved)
            _, columns = self._priced(worth, day_worth, is_exact=False)
            if self.master.add(columns) >= _FEW:
                continue
            least, columns = self._priced(worth, day_worth, is_exact=True)
            self.master.add(columns)
            value = int(worth[self.wanted].sum()) + int((day_worth * self.working).sum()) + least
            if value > self.best:
                self.best, self.centre = value, (worth, day_worth)
        return rounds, False

    def _smoothed(self, solved: Solved) -> tuple[Cents, Cents]:
        """The program's duals in PARTS, drawn to the best ones, less so the nearer it is done."""
        worth = np.rint(solved.worth * PARTS).astype(np.int64)
        day_worth = np.rint(solved.day_worth * PARTS).astype(np.int64)
        if self.centre is None:
            return worth, day_worth
        gap = 1 - self.best / PARTS / max(solved.value, 1.0)
        pull = 0.5 if gap > 0.01 else 0.25 if gap > 0.003 else 0.0
        first, second = self.centre
        return (
            np.rint(pull * first + (1 - pull) * worth).astype(np.int64),
            np.rint(pull * second + (1 - pull) * day_worth).astype(np.int64),
        )

    def _priced(
        self, worth: Cents, day_worth: Cents, *, is_exact: bool
    ) -> tuple[int, list[Column]]:
        """The least that all technicians' trips come to at these duals, and trips below zero.

        The first holds only where is_exact.
        """
        least, columns = 0, list[Column]()
        for number, one in enumerate(self.grounds):
            found = price(
                number,
                one,
                self.memories[number],
                worth,
                day_worth[one.segment.kind],
                self.labels,
                _MOST,
                _GRID,
                is_exact,
            )
            least += one.segment.technicians * packed(found.least)
            columns += found.columns
        return least, columns

    def _remember_more(self, solved: Solved) -> bool:
        """Let memories grow where trips in use serve a need twice; whether one did."""
        trips = defaultdict(list)
        for number in np.flatnonzero(solved.share > 1e-6).tolist():
            column = self.master.columns[number]
            if column.ground >= 0 and any(times > 1 for _, times in column.needs):
                trips[column.ground].append(column.stops)
        changed = False
        for number, some in sorted(trips.items()):
            more = grown(self.grounds[number], self.knows[number], some, _OWN)
            if more is not None:
                changed = True
                self.knows[number] = more
                self.memories[number] = memory_of(self.grounds[number], more)
                self._drop(number)
        return changed

    def _drop(self, number: int) -> None:
        """Take the trips out of the program that a memory does not allow any more."""
        self.master.drop(
            place
            for place, column in enumerate(self.master.columns)
            if column.ground == number
            and any(times > 1 for _, times in column.needs)
            and not is_allowed(self.knows[number], column.stops)
        )
