"""Would a need that was left out find a place if one rule were relaxed, all else left as it is?

A place is one in a trip that is not confirmed, at every turn, or a trip of its own on free days.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from itertools import chain

import numpy as np

from schedules.visits.diagnosis.dates_in_words import in_words
from schedules.visits.diagnosis.findings import Code, Finding
from schedules.visits.diagnosis.mends import (
    AllowNights,
    ExtendLimit,
    LiftUnsuitable,
    Mend,
    MoreTechnicians,
    OpenSite,
    OpenTrip,
    mended_problem,
)
from schedules.visits.diagnosis.reasons import unit_words, window
from schedules.visits.diagnosis.remedies import least_step, like_whom
from schedules.visits.model import Need, Plan, Trip
from schedules.visits.problem import Problem
from schedules.visits.walk import end_day, home_at, trip_cents

__all__ = ["explain_unplaced", "place_cents"]


def explain_unplaced(problem: Problem, plan: Plan) -> list[Finding]:
    """What would let each need that a plan leaves out find a place, from mild to hard.

    In this order: nothing (the search missed it), an unsuitable day lifted, one more night away,
    a confirmed trip opened, the site open one more day, a later limit, one more technician. Of a
    kind the cheapest (the limit: the earliest). cents: what the place adds to the plan.
    """
    return [
        _explained(problem, plan, problem.order.needs[problem.need_index[name]])
        for name in plan.unplaced
        if name in problem.need_index
    ]


def place_cents(problem: Problem, plan: Plan, name: str) -> int | None:
    """The least that a need adds to a plan in a place of it; None where there is none."""
    need = problem.need_index[name]
    days = np.flatnonzero(problem.arrays.is_open[need])
    if not len(days):
        return None
    taken = _taken(problem, plan)
    costs = chain(_joined(problem, plan, need, taken), _own(problem, need, taken))
    return min(costs, default=None)


def _explained(problem: Problem, plan: Plan, need: Need) -> Finding:
    near = _near(problem, plan, need)
    said = unit_words(need)
    limit = f"by {in_words(need.limit_on)}"
    cents = place_cents(near, _known(near, plan), need.name)
    if cents is not None:
        words = f"{said} was left out by the search and has a place {limit} in the plan as it is."
        return _finding(need, words, None, cents)
    for mends in _relaxed(near, plan, need):
        best = _cheapest(near, plan, need, mends)
        if best is not None:
            words = f"{said} found no place {limit} beside the other visits;"
            return _finding(need, f"{words} it would: {best[0].words}.", *best)
    words = f"{said} found no place {limit} beside the other visits, with any one rule relaxed."
    return _finding(need, words, None, None)


def _finding(need: Need, words: str, mend: Mend | None, cents: int | None) -> Finding:
    return Finding(
        code=Code.NOT_FOUND,
        needs=(need.name,),
        is_proved=False,
        numbers={} if cents is None else {"added_cents": cents},
        words=words,
        mend=mend,
        cents=cents,
    )


def _near(problem: Problem, plan: Plan, need: Need) -> Problem:
    """The problem of the need and of the plan's, all others left out."""
    names = {need.name, *chain.from_iterable(trip.needs for trip in plan.trips)}
    needs = tuple(one for one in problem.order.needs if one.name in names)
    return Problem(replace(problem.order, needs=needs), problem.lock)


def _known(problem: Problem, plan: Plan) -> Plan:
    """The plan's trips that the problem's axis and needs know."""
    return Plan(tuple(trip for trip in plan.trips if trip.start_on in problem.day_index))


def _cheapest(
    problem: Problem, plan: Plan, need: Need, mends: list[Mend]
) -> tuple[Mend, int] | None:
    found = []
    for mend in mends:
        after = mended_problem(problem, mend)
        cents = place_cents(after, _known(after, plan), need.name)
        if cents is not None:
            found.append((mend, cents))
    return min(found, key=lambda pair: pair[1], default=None)


def _relaxed(problem: Problem, plan: Plan, need: Need) -> Iterator[list[Mend]]:
    order, days = problem.order, window(problem.order, need)
    stand = next(one for one in order.stands if one.site == need.site)
    yield [LiftUnsuitable(need.name, on) for on in days if on in need.closed_on]
    yield [
        AllowNights(one.technician, one.max_nights + 1)
        for one in order.technicians
        if one.max_nights < 6
    ]
    yield [OpenTrip(trip) for trip in problem.lock.confirmed]
    yield [
        OpenSite(stand.site, on)
        for on in days
        if on not in stand.open_on and on not in need.closed_on and on in problem.day_index
    ]
    yield _later(problem, plan, need)
    yield _one_more(problem, days)


def _later(problem: Problem, plan: Plan, need: Need) -> list[Mend]:
    first = max(need.limit_on, problem.order.from_on - dt.timedelta(days=1))

    def later(days: int) -> ExtendLimit:
        return ExtendLimit(need.name, first + dt.timedelta(days=days))

    def helps(days: int) -> bool:
        return _cheapest(problem, plan, need, [later(days)]) is not None

    days = least_step(helps, 1, (problem.order.to_on - first).days)
    return [] if days is None else [later(days)]


def _one_more(problem: Problem, days: list[dt.date]) -> list[Mend]:
    """One more technician in the weeks of the window, from each depot, on days others work."""
    like = like_whom(problem.order)
    if like is None or not days:
        return []
    first = days[0] - dt.timedelta(days=days[0].weekday())
    last = days[-1] + dt.timedelta(days=6 - days[-1].weekday())
    worked = tuple(on for on in problem.days if first <= on <= last)
    depots = [one.depot for one in problem.order.depots]
    return [MoreTechnicians(replace(like, depot=one), 1, worked) for one in depots if worked]


def _taken(problem: Problem, plan: Plan) -> dict[tuple[int, int], Trip]:
    """Which trip each technician's axis day belongs to."""
    taken = {}
    for trip in plan.trips:
        technician, start, needs = problem.numbered(trip)
        for day in range(start, _end(problem, technician, start, needs) + 1):
            taken[technician, day] = trip
    return taken


def _end(problem: Problem, technician: int, start: int, needs: tuple[int, ...]) -> int:
    """The last axis day of a trip; start - 1 if it cannot be."""
    begins = np.zeros(len(needs), dtype=np.int32)
    row = np.array(needs, dtype=np.int32)
    home = home_at(problem.arrays, technician, start, row, len(needs), begins)
    return end_day(problem.arrays, technician, start, home) if home >= 0 else start - 1


def _cents(problem: Problem, technician: int, start: int, needs: tuple[int, ...]) -> int:
    begins = np.zeros(len(needs), dtype=np.int32)
    row = np.array(needs, dtype=np.int32)
    return int(trip_cents(problem.arrays, technician, start, row, len(needs), begins))


def _joined(
    problem: Problem, plan: Plan, need: int, taken: dict[tuple[int, int], Trip]
) -> Iterator[int]:
    """What the need adds at each turn of each trip in a week of one of its open days."""
    a, confirmed = problem.arrays, set(problem.lock.confirmed)
    weeks = set(a.week[a.is_open[need]].tolist())
    for trip in plan.trips:
        technician, start, needs = problem.numbered(trip)
        if trip in confirmed or int(a.week[start]) not in weeks:
            continue
        before = _cents(problem, technician, start, needs)
        for turn in range(len(needs) + 1):
            longer = (*needs[:turn], need, *needs[turn:])
            cents = _cents(problem, technician, start, longer)
            if cents < 0 or before < 0:
                continue
            end = _end(problem, technician, start, longer)
            days = [(technician, day) for day in range(start, end + 1)]
            if all(taken.get(day, trip) == trip for day in days):
                yield cents - before


def _own(problem: Problem, need: int, taken: dict[tuple[int, int], Trip]) -> Iterator[int]:
    """What a trip for the need alone costs, of each technician on each start day that is free."""
    a = problem.arrays
    weeks = np.isin(a.week, a.week[a.is_open[need]])
    for technician in range(len(a.depot)):
        for start in np.flatnonzero(weeks & a.works[technician]).tolist():
            cents = _cents(problem, technician, start, (need,))
            if cents < 0:
                continue
            end = _end(problem, technician, start, (need,))
            if not any((technician, day) in taken for day in range(start, end + 1)):
                yield cents
