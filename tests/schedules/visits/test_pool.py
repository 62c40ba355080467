"""Is the plan put together from a pool the cheapest that its trips allow?"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from schedules.visits.check import faults
from schedules.visits.model import Lock, Plan, Trip
from schedules.visits.planner import Effort, make_plan
from schedules.visits.problem import Problem
from schedules.visits.search.anneal import ABSENT_CENTS
from schedules.visits.search.pool import Pool
from schedules.visits.search.state import new_state
from schedules.visits.told import tell
from tests.schedules.visits.good_plan import A1, A2, B1, FRI, MON, ORDER, OUT, THU, TUE, WED


def chosen(problem: Problem, *plans: tuple[Trip, ...]) -> list[Trip]:
    pool = Pool(problem)
    for trips in plans:
        pool.add(new_state(problem, [*problem.lock.confirmed, *trips], problem.lock.confirmed))
    return pool.cheapest(ABSENT_CENTS)


def test_the_best_halves_of_two_plans_make_one_that_is_better_than_both() -> None:
    """Against every choice of their trips."""
    problem = Problem(ORDER)
    apart = (Trip("Ash", MON, (A1,)), Trip("Ash", TUE, (A2,)), Trip("Ash", WED, (B1,)))
    together = (Trip("Ash", WED, (A1, A2)), Trip("Bay", THU, (B1,)))
    late = (Trip("Ash", FRI, (A1, A2)), Trip("Ash", MON, (B1,)))
    found = Plan(tuple(chosen(problem, apart, together, late)))
    cents = tell(problem, found).costs.total

    pool = {trip for trips in (apart, together, late) for trip in trips}
    whole = [
        Plan(trips)
        for count in (1, 2, 3)
        for trips in product(pool, repeat=count)
        if sorted(name for trip in trips for name in trip.needs) == sorted((A1, A2, B1))
    ]
    assert cents == min(tell(problem, plan).costs.total for plan in whole)
    assert faults(ORDER, problem.lock, tell(problem, found)) == []


def test_two_trips_of_one_day_go_to_two_technicians() -> None:
    problem = Problem(ORDER)
    found = chosen(problem, (Trip("Ash", MON, (A1, A2)),), (Trip("Ash", MON, (B1,)),))

    assert {trip.technician for trip in found} == {"Ash", "Bay"}
    assert faults(ORDER, problem.lock, tell(problem, Plan(tuple(found)))) == []


def test_where_one_technician_is_all_there_is_a_need_stays_absent() -> None:
    alone = Problem(replace(ORDER, technicians=ORDER.technicians[:1]))
    found = chosen(alone, (Trip("Ash", MON, (A1, A2)),), (Trip("Ash", MON, (B1,)),))

    assert [trip.needs for trip in found] == [(A1, A2)]


def test_a_confirmed_trip_and_its_days_are_left_alone() -> None:
    confirmed = Trip("Ash", MON, (A1, A2))
    problem = Problem(ORDER, Lock(confirmed=(confirmed,)))
    found = chosen(problem, (Trip("Bay", MON, (B1,)),), (Trip("Ash", THU, (B1,)),))

    assert [trip.needs for trip in found] == [(B1,)]
    plan = Plan((confirmed, *found))
    assert faults(ORDER, problem.lock, tell(problem, plan)) == []


@pytest.mark.parametrize("lock", [Lock(), Lock(confirmed=(OUT,))], ids=["free", "confirmed"])
def test_a_plan_of_several_starts_keeps_every_rule(lock: Lock) -> None:
    problem = Problem(ORDER, lock)
    plan = make_plan(problem, Effort(seed=1, iterations=6_000))

    assert plan.unplaced == ()
    assert faults(ORDER, lock, tell(problem, plan)) == []
    assert set(lock.confirmed) <= set(plan.trips)
