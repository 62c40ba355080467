"""Is what is wrong with an order found, and does the mend work? Orders broken on purpose.

`python -m tests.studies.diagnosis` breaks 20 made-up states in each of six ways and prints how
often the reason was right and the mend, made and checked by other means, helped.
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from schedules.visits.diagnosis import (
    Code,
    Finding,
    diagnose,
    explain_unplaced,
    mended,
    mended_problem,
)
from schedules.visits.model import Lock, Need, Order, Plan, Trip
from schedules.visits.planner import Effort, make_plan, replan
from schedules.visits.problem import Problem
from schedules.visits.walk import home_at
from tests.studies.visit_instance import FROM_ON, Spot, drawn_order, working_days

__all__ = ["Tally", "broken", "judged", "tally"]

KINDS = tuple(Code)
DEPOT = Spot("depot", 40.8, -96.7)


class Broken(NamedTuple):
    """A problem broken in one way: the needs concerned; for not-found the plan without them."""

    code: Code
    problem: Problem
    needs: tuple[str, ...]
    plan: Plan = Plan(())


class Tally(NamedTuple):
    """Of so many broken orders: the reason was right, and the mend helped."""

    broken: int
    right: int
    mended: int


def tally(code: Code, count: int) -> Tally:
    """Break so many states in one way, by the seeds 1, 2, 3..."""
    verdicts = [judged(broken(code, seed)) for seed in range(1, count + 1)]
    return Tally(count, sum(one for one, _ in verdicts), sum(two for _, two in verdicts))


def broken(code: Code, seed: int) -> Broken:
    """A state of 7 sites and 12 units that is broken in one way."""
    chance = random.Random(f"{code}/{seed}")
    sites = [
        Spot(f"Site {n}", 40.8 + chance.uniform(-1.2, 1.2), -96.7 + chance.uniform(-1.5, 1.5))
        for n in range(7)
    ]
    order = drawn_order(sites, [DEPOT], 12, chance.choice((1, 2)), seed)
    return BREAKERS[code](chance, order)


def judged(case: Broken) -> tuple[bool, bool]:
    """Whether the reason is right, and whether the mend is there and helps."""
    if case.code is Code.NOT_FOUND:
        return _judged_left_out(case)
    findings = [one for one in diagnose(case.problem) if set(one.needs) & set(case.needs)]
    right = bool(findings) and all(one.code is case.code for one in findings)
    return right, right and all(_helps(case.problem.order, one) for one in findings)


def _judged_left_out(case: Broken) -> tuple[bool, bool]:
    proved = [one for one in diagnose(case.problem) if set(one.needs) & set(case.needs)]
    (found,) = explain_unplaced(case.problem, case.plan)
    right = not proved and found.code is Code.NOT_FOUND
    if found.mend is None:
        return right, False
    after = replan(mended_problem(case.problem, found.mend), case.plan, Effort(iterations=0))
    return right, right and not set(after.unplaced) & set(case.needs)


def _helps(order: Order, finding: Finding) -> bool:
    if finding.mend is None:
        return False
    after = mended(order, finding.mend)
    if finding.code is Code.CAPACITY:
        left = make_plan(Problem(after), Effort(iterations=4_000)).unplaced
        return not left and all(one.code is not Code.CAPACITY for one in diagnose(Problem(after)))
    units = {name.split("/")[0] for name in finding.needs}
    concerned = [need for need in after.needs if need.property_number in units]
    return all(_has_trip(Problem(after), need) for need in concerned)


def _has_trip(problem: Problem, need: Need) -> bool:
    """Say whether some technician can make a trip for the need alone on some day."""
    one = np.array([problem.need_index[need.name]], dtype=np.int32)
    begun = np.zeros(1, dtype=np.int32)
    return any(
        home_at(problem.arrays, technician, start, one, 1, begun) >= 0
        for technician in range(len(problem.order.technicians))
        for start in range(len(problem.days))
    )


def _changed(order: Order, need: Need, changed: Need) -> Order:
    return replace(order, needs=tuple(changed if one is need else one for one in order.needs))


def _days(first: dt.date, last: dt.date) -> frozenset[dt.date]:
    return frozenset(first + dt.timedelta(days=n) for n in range((last - first).days + 1))


def _no_open_day(chance: random.Random, order: Order) -> Broken:
    """All days of a unit's window are closed at its site, or do not suit, or the one or other."""
    need = chance.choice(order.needs)
    days = sorted(_days(need.opens_on, need.limit_on))
    unsuitable = frozenset(on for on in days if chance.random() < chance.choice((0, 0.5, 1)))
    busy = replace(need, closed_on=unsuitable)
    stands = tuple(
        replace(one, open_on=frozenset(one.open_on) - (set(days) - unsuitable))
        if one.site == need.site
        else one
        for one in order.stands
    )
    order = replace(_changed(order, need, busy), stands=stands)
    return Broken(Code.NO_OPEN_DAY, Problem(order), (need.name,))


def _past_limit(chance: random.Random, order: Order) -> Broken:
    need = chance.choice(order.needs)
    limit_on = FROM_ON - dt.timedelta(days=chance.randint(1, 90))
    late = replace(need, opens_on=limit_on - dt.timedelta(days=45), limit_on=limit_on)
    return Broken(Code.PAST_LIMIT, Problem(_changed(order, need, late)), (need.name,))


def _out_of_reach(chance: random.Random, order: Order) -> Broken:
    """A site too far for the nights allowed, a kind nobody serves, or nobody works at the time."""
    need = chance.choice(order.needs)
    how = chance.randrange(3)
    if how == 0:
        place, far = order.places.index(need.site), chance.randint(240, 900)
        minutes = tuple(
            tuple(leg + far * ((a == place) != (b == place)) for b, leg in enumerate(row))
            for a, row in enumerate(order.minutes)
        )
        nights = (2 * far - 1) // 480
        homely = tuple(replace(o, max_nights=max(0, nights - 1)) for o in order.technicians)
        order = replace(order, minutes=minutes, technicians=homely)
        hit = tuple(one.name for one in order.needs if one.site == need.site)
        return Broken(Code.OUT_OF_REACH, Problem(order), hit)
    if how == 1:
        kinds = frozenset({"microscope"})
        trained = tuple(replace(one, kinds=kinds) for one in order.technicians)
        order = _changed(replace(order, technicians=trained), need, replace(need, kind="autoclave"))
        return Broken(Code.OUT_OF_REACH, Problem(order), (need.name,))
    away = _days(need.opens_on, need.limit_on)
    absent = tuple(
        replace(one, works_on=frozenset(one.works_on) - away) for one in order.technicians
    )
    return Broken(Code.OUT_OF_REACH, Problem(replace(order, technicians=absent)), (need.name,))


def _longer_than_day(chance: random.Random, order: Order) -> Broken:
    need = chance.choice(order.needs)
    long = replace(need, minutes=480 + chance.randint(1, 1500))
    return Broken(Code.LONGER_THAN_DAY, Problem(_changed(order, need, long)), (need.name,))


def _capacity(chance: random.Random, order: Order) -> Broken:
    """Many units of one week, or of some days of one, whose service alone or with roads is much."""
    monday = FROM_ON + dt.timedelta(weeks=chance.randint(4, 40))
    last = monday + dt.timedelta(days=chance.choice((1, 2, 4)))
    crew = len(order.technicians)
    room = 480 * crew * len(_days(monday, last))
    extra: list[Need] = []
    while sum(need.minutes for need in extra) <= room * chance.choice((0.95, 1.0, 1.2)):
        like = chance.choice(order.needs)
        extra.append(
            replace(
                like,
                property_number=f"9{len(extra):05}",
                opens_on=monday,
                nominal_on=last,
                due_on=last,
                limit_on=last,
                minutes=chance.randint(60, 240),
            )
        )
    week = _days(monday, last)
    stands = tuple(replace(one, open_on=frozenset(one.open_on) | week) for one in order.stands)
    technicians = tuple(
        replace(one, works_on=frozenset(one.works_on) | week) for one in order.technicians
    )
    order = replace(order, needs=(*order.needs, *extra), stands=stands, technicians=technicians)
    return Broken(Code.CAPACITY, Problem(order), tuple(need.name for need in extra))


def _not_found(chance: random.Random, order: Order) -> Broken:
    """All technicians are out on confirmed trips on the one day on which a unit can be served."""
    roads = {
        one.site: order.minutes[len(order.stands)][place] for place, one in enumerate(order.stands)
    }
    near = sorted(order.needs, key=lambda need: roads[need.site])
    on = chance.choice(working_days()[60:200])
    wide = dt.timedelta(days=30)
    fillers = [
        replace(need, opens_on=on - wide, limit_on=on + wide, nominal_on=on)
        for need in near[: len(order.technicians)]
    ]
    single = replace(near[-1], opens_on=on, limit_on=on, nominal_on=on)
    stands = tuple(replace(one, open_on=frozenset(one.open_on) | {on}) for one in order.stands)
    order = replace(order, needs=(*fillers, single), stands=stands)
    trips = tuple(
        Trip(one.technician, on, (filler.name,))
        for one, filler in zip(order.technicians, fillers, strict=True)
    )
    lock = Lock(confirmed=trips)
    return Broken(Code.NOT_FOUND, Problem(order, lock), (single.name,), Plan(trips, (single.name,)))


BREAKERS: dict[Code, Callable[[random.Random, Order], Broken]] = {
    Code.PAST_LIMIT: _past_limit,
    Code.NO_OPEN_DAY: _no_open_day,
    Code.LONGER_THAN_DAY: _longer_than_day,
    Code.OUT_OF_REACH: _out_of_reach,
    Code.CAPACITY: _capacity,
    Code.NOT_FOUND: _not_found,
}


def _lines(count: int) -> Iterator[str]:
    yield "| broken | orders | right reason | mend works |"
    yield "|---|---|---|---|"
    tallies = {code: tally(code, count) for code in Code}
    for code, one in tallies.items():
        yield f"| {code} | {one.broken} | {one.right} | {one.mended} |"
    sums = [sum(one[part] for one in tallies.values()) for part in range(3)]
    yield f"| all | {sums[0]} | {sums[1]} | {sums[2]} |"


if __name__ == "__main__":
    for line in _lines(20):
        print(line)
