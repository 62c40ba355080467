"""Do the plans by hand do what they say: own date, fewest visits, and nothing hidden?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

from schedules.visits.check import faults
from schedules.visits.model import Lock, Need, Order
from schedules.visits.problem import Problem
from schedules.visits.simple_plans import (
    SimplePlan,
    own_date_plan,
    site_grouped_plan,
    widened,
)
from tests.schedules.visits.good_plan import NEXT_WEEK, ORDER, WEEK, need
from tests.schedules.visits.strategies import orders
from tests.studies.visit_instance import study_order

# Monday 11 to Friday 15 January 2027, the second week of the order; due on Wednesday.
MON, TUE, WED, THU, FRI = (dt.date(2027, 1, 11 + number) for number in range(5))


def due_on_wednesday(number: str, site: str, limit_on: dt.date = THU) -> Need:
    return need(number, site, opens_on=MON, nominal_on=WED, due_on=WED, limit_on=limit_on)


def by_one(*needs: Need, works_on: frozenset[dt.date] = WEEK | NEXT_WEEK) -> Order:
    """The order of these needs, for one technician who is never away for a night."""
    one = replace(ORDER.technicians[0], works_on=works_on, max_nights=0)
    return replace(ORDER, needs=needs, technicians=(one,))


def days(plan: SimplePlan) -> dict[str, dt.date]:
    return {n.name[0]: n.on for trip in plan.told.trips for v in trip.visits for n in v.needs}


def test_a_need_is_served_on_its_due_date() -> None:
    plan = own_date_plan(Problem(by_one(due_on_wednesday("1", "Alder"))))

    assert (days(plan), plan.late) == ({"1": WED}, ())


def test_a_trip_to_a_far_site_begins_so_early_that_it_is_there_on_the_due_date() -> None:
    minutes = tuple(tuple(4 * leg for leg in row) for row in ORDER.minutes)
    order = replace(ORDER, needs=(due_on_wednesday("1", "Alder"),), minutes=minutes)
    plan = own_date_plan(Problem(order))

    assert [(t.starts_on, t.ends_on) for t in plan.told.trips] == [(TUE, FRI)]
    assert days(plan) == {"1": WED}


def test_the_nearest_free_day_before_the_due_date_is_next() -> None:
    needs = [due_on_wednesday(str(number), "Alder") for number in (1, 2, 3)]
    order = by_one(*needs, works_on=NEXT_WEEK - {TUE})
    plan = own_date_plan(Problem(order))

    assert (days(plan), plan.late) == ({"1": WED, "2": MON, "3": THU}, ())


def test_what_no_day_of_its_window_is_left_for_is_served_late() -> None:
    needs = [due_on_wednesday(str(number), "Alder", limit_on=WED) for number in (1, 2, 3, 4)]
    plan = own_date_plan(Problem(by_one(*needs, works_on=NEXT_WEEK - {TUE})))

    assert days(plan) == {"1": WED, "2": MON, "3": THU, "4": FRI}
    assert plan.late == (needs[2].name, needs[3].name)


def test_what_no_day_at_all_is_left_for_is_unplaced() -> None:
    needs = [due_on_wednesday(str(number), "Alder") for number in (1, 2)]
    plan = own_date_plan(Problem(by_one(*needs, works_on=frozenset({WED}))))

    assert (days(plan), plan.told.unplaced) == ({"1": WED}, (needs[1].name,))


def test_needs_that_share_an_open_day_share_a_visit() -> None:
    needs = (
        due_on_wednesday("1", "Alder", limit_on=TUE),
        due_on_wednesday("2", "Alder", limit_on=FRI),
        replace(due_on_wednesday("3", "Alder", limit_on=FRI), opens_on=WED),
        due_on_wednesday("4", "Birch", limit_on=FRI),
    )
    plan = site_grouped_plan(Problem(replace(ORDER, needs=needs)))

    visits = [visit for trip in plan.told.trips for visit in trip.visits]
    together = sorted("".join(n.name[0] for n in visit.needs) for visit in visits)
    assert together == ["12", "3", "4"]
    assert days(plan) == {"1": TUE, "2": TUE, "3": FRI, "4": THU}  # Birch is two days' trip


def test_needs_too_many_for_a_trip_are_parted() -> None:
    needs = tuple(replace(due_on_wednesday(str(number), "Alder"), minutes=100) for number in (1, 2))
    plan = site_grouped_plan(Problem(by_one(*needs)))

    assert [trip.starts_on for trip in plan.told.trips] == [WED, THU]
    assert plan.late == ()


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(order=orders())
def test_plans_by_hand_pass_the_checker_and_name_all_that_is_late(order: Order) -> None:
    limits = {need.name: need.limit_on for need in order.needs}
    for plan in (own_date_plan(Problem(order)), site_grouped_plan(Problem(order))):
        assert faults(widened(order), Lock(), plan.told) == []
        dates = {n.name: n.on for t in plan.told.trips for v in t.visits for n in v.needs}
        assert plan.late == tuple(sorted(name for name in dates if dates[name] > limits[name]))
        assert all(len(trip.visits) == 1 for trip in plan.told.trips)


@pytest.mark.parametrize(
    ("made", "cents", "hundredths", "visits"),
    [(own_date_plan, 34_664_700, 11_174_700, 280), (site_grouped_plan, 25_096_900, 7_985_400, 198)],
)
def test_plans_by_hand_of_the_study_cost_what_another_evaluator_found(
    made: object, cents: int, hundredths: int, visits: int
) -> None:
    # Those figures allowed trips over a weekend and services off their days: near, not equal.
    plan = made(Problem(study_order(280, 2))).told  # type: ignore[operator]

    assert (plan.visits, plan.unplaced) == (visits, ())
    assert plan.miles == pytest.approx(hundredths, abs=100)
    assert plan.costs.total == pytest.approx(cents, rel=0.002)
