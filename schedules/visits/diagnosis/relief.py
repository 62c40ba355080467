"""Which change relieves a span of days that is too full? Tried until a plan places its needs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from schedules.visits.diagnosis.alone import is_servable, shortest_minutes
from schedules.visits.diagnosis.capacity import Overload, overloads
from schedules.visits.diagnosis.mends import ExtendLimit, Mend, MoreTechnicians, WorkOn, mended
from schedules.visits.model import Order, Plan
from schedules.visits.planner import Effort, replan
from schedules.visits.problem import Problem

__all__ = ["relief"]

_MOST_TECHNICIANS = 12
_LATER_DAYS = (7, 14)
_NEEDS_TRIED = 2
_DAYS_TRIED = 3


def relief(problem: Problem, overload: Overload) -> Mend | None:
    """The mildest change after which no span is too full and a plan places the needs round it.

    From mild to hard: one more working day of a technician, one limit a week or two later, more
    technicians in the weeks of the span. None where twelve more are not enough.
    """
    order = _near(problem, overload)
    for mend in _mends(problem, overload):
        after = mended(order, mend)
        if not _is_full(after) and _places_all(after):
            return mend
    return None


def _near(problem: Problem, overload: Overload) -> Order:
    """The order of the needs with an open day in the span that some trip can serve."""
    a, order = problem.arrays, problem.order
    servable = is_servable(problem, shortest_minutes(order))
    near = a.is_open[:, overload.first : overload.last + 1].any(axis=1) & servable
    return replace(order, needs=tuple(order.needs[n] for n in np.flatnonzero(near).tolist()))


def _is_full(order: Order) -> bool:
    problem, shortest = Problem(order), shortest_minutes(order)
    return bool(overloads(problem.arrays, shortest, is_servable(problem, shortest)))


def _places_all(order: Order) -> bool:
    return not replan(Problem(order), Plan(()), Effort(iterations=0)).unplaced


def _mends(problem: Problem, overload: Overload) -> Iterator[Mend]:
    order, span = problem.order, _weeks(problem, overload)
    group = [order.technicians[number] for number in overload.technicians]
    first_on, last_on = problem.days[overload.first], problem.days[overload.last]
    for one in group:
        missing = [on for on in span if first_on <= on <= last_on and on not in one.works_on]
        for on in sorted(missing, key=lambda on: (on.weekday() > 4, on))[:_DAYS_TRIED]:
            yield WorkOn(one.technician, (on,))
    needs = [order.needs[number] for number in overload.needs]
    for need in sorted(needs, key=lambda need: (-need.minutes, need.name))[:_NEEDS_TRIED]:
        for days in _LATER_DAYS:
            limit_on = need.limit_on + dt.timedelta(days=days)
            if limit_on <= order.to_on:
                yield ExtendLimit(need.name, limit_on)
    like = max(group, key=lambda one: (one.day_minutes, one.max_nights))
    worked = tuple(on for on in span if on in problem.day_index)
    for count in range(1, _MOST_TECHNICIANS + 1):
        yield MoreTechnicians(like, count, worked)


def _weeks(problem: Problem, overload: Overload) -> list[dt.date]:
    """The days of the weeks that the span lies in, within the order's."""
    first, last = problem.days[overload.first], problem.days[overload.last]
    first = max(problem.order.from_on, first - dt.timedelta(days=first.weekday()))
    last = min(problem.order.to_on, last + dt.timedelta(days=6 - last.weekday()))
    return [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
