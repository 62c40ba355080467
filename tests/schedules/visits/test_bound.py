"""Is a bound never above what a plan costs, and as near to it as it can be where that is known?"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings

from schedules.visits.bound import Bound, lower_bound
from schedules.visits.model import Plan
from schedules.visits.planner import Effort, make_plan
from schedules.visits.problem import Problem
from schedules.visits.told import tell
from tests.schedules.visits.every_plan import cheapest
from tests.schedules.visits.good_plan import MON, ORDER, OUT, need
from tests.schedules.visits.strategies import problems
from tests.studies.visit_instance import study_order


@given(problem=problems())
@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
def test_no_plan_of_a_small_order_costs_less_than_its_bound(problem: Problem) -> None:
    """Against the cheapest of every plan there is, where one serves all needs."""
    small = Problem(replace(problem.order, needs=problem.order.needs[:3]), problem.lock)
    unplaced, cents = cheapest(small)
    bound = lower_bound(small, rounds=40)

    if not unplaced:
        assert bound.left_out == ()
        assert bound.cents <= cents


def test_one_need_is_bounded_by_its_own_trip_to_the_cent() -> None:
    """180 minutes and 165.05 miles each way, 60 of service: home the same day.

    165.05 miles x $0.70 = $115.535, rounded half up, both ways: $231.08; 6 h x $95 = $570; trip
    $150; visit $40. On the nominal day nothing is lost, but that is 20 January, beyond the span:
    the last day is the 15th (a Friday), 5 days early at $365 a year of 365 days: $5. Together
    $996.08.
    """
    one = Problem(replace(ORDER, needs=(need("1", "Alder"),)))
    bound = lower_bound(one, rounds=20)

    assert bound.cents == 99_608
    assert tell(one, make_plan(one, Effort(iterations=500))).costs.total == 99_608


def test_two_needs_of_a_site_share_the_road_in_the_bound() -> None:
    """As above with one more service on the same stop, five days early too: $5 more."""
    two = Problem(replace(ORDER, needs=(need("1", "Alder"), need("2", "Alder"))))
    assert lower_bound(two, rounds=40).cents == 100_108


def test_a_bound_starts_from_a_plan_and_stays_below_it() -> None:
    problem = Problem(ORDER)
    bound = lower_bound(problem, rounds=40, start=Plan((OUT,)))
    best = tell(problem, make_plan(problem, Effort(iterations=2_000))).costs.total

    assert bound.is_converged
    assert 0 < bound.cents <= best
    assert best <= bound.cents * 1.01


def test_a_need_that_no_trip_can_serve_is_left_out_and_named() -> None:
    problem = Problem(replace(ORDER, needs=(need("1", "Alder"), need("9", "Birch", minutes=500))))
    bound = lower_bound(problem, rounds=20)

    assert bound.left_out == ("9/service/2027-01-20",)
    assert bound.cents == 99_608


def test_an_order_without_needs_has_the_bound_nothing() -> None:
    assert lower_bound(Problem(replace(ORDER, needs=())), rounds=3).cents == 0


def test_a_window_of_one_day_on_a_closed_day_is_left_out() -> None:
    shut = need("1", "Alder", opens_on=MON, limit_on=MON, closed_on=frozenset({MON}))
    assert lower_bound(Problem(replace(ORDER, needs=(shut,))), rounds=3).left_out


# A part of the study's state: more than can be tried out, and known to the cent to be bounded.


@cache
def quarter() -> Problem:
    order = study_order(280, 2)
    some = {stand.site for stand in order.stands[:24]}
    return Problem(replace(order, needs=tuple(n for n in order.needs if n.site in some)))


@cache
def quarter_bound(rounds: int) -> Bound:
    return lower_bound(quarter(), rounds=rounds)


def test_a_bound_is_valid_wherever_it_is_stopped_and_only_rises() -> None:
    plan = tell(quarter(), make_plan(quarter(), Effort(seed=1, iterations=5_000)))
    early, late = quarter_bound(5).cents, quarter_bound(25).cents

    assert plan.unplaced == ()
    assert early <= late <= plan.costs.total
    assert plan.costs.total <= late * 1.2


@pytest.mark.parametrize("rounds", [5])
def test_the_same_order_gives_the_same_bound(rounds: int) -> None:
    assert lower_bound(quarter(), rounds=rounds) == quarter_bound(rounds)
