"""What would the visits cost without a planner? Two plans such as one makes by hand.

Both go out to one site and back, with the technicians there are, and are priced like any plan.
What was announced or confirmed before is left out of account.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from schedules.dates import day_of
from schedules.visits.compiled import compiled
from schedules.visits.model import Need, Order, Plan, Trip
from schedules.visits.problem import Arrays, Cents, Flags, Ints, Problem
from schedules.visits.told import ToldPlan, tell
from schedules.visits.walk import end_day, home_at, trip_cents

__all__ = ["SimplePlan", "own_date_plan", "site_grouped_plan", "widened"]


@dataclass(frozen=True, slots=True)
class SimplePlan:
    """A plan by hand; late: the needs it serves after their limit, which it allows itself."""

    told: ToldPlan
    late: tuple[str, ...]


class Errand(NamedTuple):
    """Needs of one site that are served on one trip, if possible by a day, else after it."""

    by_on: dt.date
    needs: tuple[Need, ...]


class Outing(NamedTuple):
    """A way to run an errand; axis days. The last need is served on the day `served`."""

    served: int
    cents: int
    technician: int
    start: int
    end: int


def own_date_plan(problem: Problem) -> SimplePlan:
    """Each need a trip of its own: on its due date, the nearest day before, or the first after."""
    needs = sorted(problem.order.needs, key=lambda need: (need.due_on, need.name))
    return _run(problem.order, [Errand(need.due_on, (need,)) for need in needs])


def site_grouped_plan(problem: Problem) -> SimplePlan:
    """As few visits to a site as its needs' windows allow, each a trip of its own."""
    errands = [
        errand
        for stand in problem.order.stands
        for errand in _shared(problem, [n for n in problem.order.needs if n.site == stand.site])
    ]
    return _run(problem.order, sorted(errands, key=lambda one: (one.by_on, one.needs[0].name)))


def widened(order: Order) -> Order:
    """The order that plans by hand are told by: no need's window ends before the span does."""
    needs = (replace(n, limit_on=max(n.limit_on, order.to_on)) for n in order.needs)
    return replace(order, needs=tuple(needs))


def _shared(problem: Problem, needs: Sequence[Need]) -> Iterator[Errand]:
    """By the earliest of the windows' last open days everything that is open then; and so on."""
    is_open, numbers = problem.arrays.is_open, problem.need_index
    left = {need.name: np.flatnonzero(is_open[numbers[need.name]]) for need in needs}
    for need in needs:
        if not left[need.name].size:
            del left[need.name]
            yield Errand(need.limit_on, (need,))
    while left:
        by = min(int(days[-1]) for days in left.values())
        group = sorted(
            (need for need in needs if need.name in left and is_open[numbers[need.name], by]),
            key=lambda need: (need.limit_on, need.name),
        )
        for need in group:
            del left[need.name]
        yield Errand(problem.days[by], tuple(group))


def _run(order: Order, errands: Iterable[Errand]) -> SimplePlan:
    """Run errand after errand on days that are still free."""
    strict, wide = Problem(order), Problem(widened(order))
    busy = np.zeros((len(order.technicians), len(wide.days)), dtype=np.bool_)
    trips: list[Trip] = []
    waiting = list(errands)[::-1]
    while waiting:
        errand = waiting.pop()
        outing = _outing(strict, wide, errand, busy)
        if outing is not None:
            busy[outing.technician, outing.start : outing.end + 1] = True
            name = order.technicians[outing.technician].technician
            names = tuple(need.name for need in errand.needs)
            trips.append(Trip(name, wide.days[outing.start], names))
        elif len(errand.needs) > 1:
            half = len(errand.needs) // 2
            waiting.append(errand._replace(needs=errand.needs[half:]))
            waiting.append(errand._replace(needs=errand.needs[:half]))
    return _told(order, wide, trips)


def _told(order: Order, wide: Problem, trips: Sequence[Trip]) -> SimplePlan:
    served = {name for trip in trips for name in trip.needs}
    plan = Plan(
        tuple(sorted(trips, key=lambda trip: (trip.start_on, trip.technician))),
        tuple(need.name for need in order.needs if need.name not in served),
    )
    told = tell(wide, plan)
    limits = {need.name: need.limit_on for need in order.needs}
    dates = ((n.name, n.on) for trip in told.trips for visit in trip.visits for n in visit.needs)
    return SimplePlan(told, tuple(sorted(name for name, on in dates if on > limits[name])))


def _outing(strict: Problem, wide: Problem, errand: Errand, busy: Flags) -> Outing | None:
    """The last that is done by the day and keeps the windows, else the first after the day."""
    needs = np.array([wide.need_index[need.name] for need in errand.needs], dtype=np.int32)
    by = int(np.searchsorted(wide.arrays.day_number, day_of(errand.by_on), side="right")) - 1
    before = [one for one in _outings(strict.arrays, needs, busy) if one.served <= by]
    if before:
        return min(before, key=lambda one: one._replace(served=-one.served))
    after = [one for one in _outings(wide.arrays, needs, busy) if one.served > by]
    return min(after, default=None)


def _outings(a: Arrays, needs: Ints, busy: Flags) -> Iterator[Outing]:
    """Every way to run an errand on free days."""
    days = busy.shape[1]
    for technician in range(len(busy)):
        served, end = np.zeros(days, dtype=np.int32), np.zeros(days, dtype=np.int32)
        cents = np.zeros(days, dtype=np.int64)
        _reach(a, technician, needs, served, end, cents)
        taken = np.concatenate([[0], np.cumsum(busy[technician])])
        starts = np.arange(days)
        is_free = (cents >= 0) & (taken[end + 1] == taken[starts])
        for start in np.flatnonzero(is_free).tolist():
            yield Outing(int(served[start]), int(cents[start]), technician, start, int(end[start]))


@compiled
def _reach(a: Arrays, technician: int, needs: Ints, served: Ints, end: Ints, cents: Cents) -> None:
    """For each start day: when the last need is served, the last day out, and the cost, or < 0."""
    begins = np.zeros(len(needs), dtype=np.int32)
    for start in range(len(cents)):
        cents[start] = trip_cents(a, technician, start, needs, len(needs), begins)
        if cents[start] >= 0:
            home = home_at(a, technician, start, needs, len(needs), begins)
            end[start] = end_day(a, technician, start, home)
            served[start] = start + begins[-1] // a.day_minutes[technician]
