"""Does a told trip agree with one told by hand, and do the rules and the checker agree?"""

from __future__ import annotations

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from schedules.visits.check import faults
from schedules.visits.model import Trip
from schedules.visits.problem import Problem
from schedules.visits.told import tell_trip
from schedules.visits.walk import trip_cents
from tests.schedules.visits.strategies import problems, trips
from tests.schedules.visits.told_by_hand import plan_by_hand, trip_by_hand


def cents_of(problem: Problem, trip: Trip) -> int:
    """What the search reckons a trip to cost; negative if it cannot be."""
    technician, start, needs = problem.numbered(trip)
    numbers, begins = np.array(needs, dtype=np.int32), np.zeros(len(needs), dtype=np.int32)
    return trip_cents(problem.arrays, technician, start, numbers, len(needs), begins)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(problem=problems(), data=st.data())
def test_what_the_walk_accepts_is_told_as_by_hand_and_passes_the_checker(
    problem: Problem, data: st.DataObject
) -> None:
    trip = data.draw(trips(problem))
    cents = cents_of(problem, trip)
    if cents < 0:
        return
    told = tell_trip(problem, trip)

    assert told.costs.total == cents
    assert told == trip_by_hand(problem, trip, waits=True)
    assert faults(problem.order, problem.lock, plan_by_hand(told, problem)) == []


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(problem=problems(), data=st.data(), waits=st.booleans())
def test_what_the_walk_refuses_the_checker_refuses_by_a_rule(
    problem: Problem, data: st.DataObject, waits: bool
) -> None:
    trip = data.draw(trips(problem))
    if cents_of(problem, trip) >= 0:
        return
    plan = plan_by_hand(trip_by_hand(problem, trip, waits), problem)

    said = faults(problem.order, problem.lock, plan)
    assert [fault for fault in said if " told as " not in fault] != [], said
