"""Does the checker pass a plan that keeps the rules, and say which rule one breaks?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace

import pytest

from schedules.visits.check import faults
from schedules.visits.model import Lock, Order, Plan, Prices, Trip
from schedules.visits.problem import Problem
from schedules.visits.told import Costs, tell
from tests.schedules.visits.good_plan import (
    A1,
    A2,
    B1,
    FIRST,
    FRI,
    GOOD,
    MON,
    NAME,
    ORDER,
    OUT_AND_OUT,
    SECOND,
    TUE,
    WED,
    WEEK,
    need,
    told,
    with_first_need,
    with_technician,
    with_trip,
)
from tests.schedules.visits.told_by_hand import plan_by_hand, trip_by_hand


def test_a_true_plan_has_no_faults() -> None:
    order, lock, plan = told()

    assert faults(order, lock, plan) == []
    assert (plan.days, plan.nights, plan.visits, plan.miles) == (2, 1, 2, 16505 + 11000 + 22000)
    assert plan.costs == Costs(
        miles=11554 + 7700 + 15400,
        hours=28500 + 19000 + 38000,
        trips=15000,
        nights=14000,
        visits=8000,
        lost_days=16 * 100 + 16 * 100 + 15 * 100,
        changes=0,
    )


def test_a_true_plan_of_two_technicians_has_no_faults() -> None:
    assert faults(*told(*OUT_AND_OUT)) == []


# Of each row: another order than the good plan was made for, and what is then wrong with the plan.
OTHER_ORDERS: Mapping[str, tuple[Order, list[str]]] = {
    "before its window": (
        with_first_need(opens_on=TUE),
        [f"{A1} is served on 2027-01-04, outside its window of 2027-01-05 to 2027-01-22."],
    ),
    "after its window": (
        with_first_need(opens_on=dt.date(2027, 1, 1), limit_on=dt.date(2027, 1, 3)),
        [f"{A1} is served on 2027-01-04, outside its window of 2027-01-01 to 2027-01-03."],
    ),
    "closed": (
        replace(ORDER, stands=(ORDER.stands[0], replace(ORDER.stands[1], open_on=WEEK - {TUE}))),
        [f"{B1} is served on 2027-01-05, when Birch is closed."],
    ),
    "a day that does not suit": (
        with_first_need(closed_on=frozenset({MON})),
        [f"{A1} is served on 2027-01-04, a day that does not suit it."],
    ),
    "another kind": (
        with_technician(kinds=frozenset({"centrifuge"})),
        [f"{name} is a microscope, which Ash does not serve." for name in (A1, A2, B1)],
    ),
    "a day off": (with_technician(works_on=WEEK - {TUE}), [f"{NAME}: Ash does not work on {TUE}."]),
    "nights": (
        with_technician(max_nights=0),
        [f"{NAME} is away for more than 0 nights: 1."],
    ),
    "outside the plan": (
        replace(ORDER, from_on=TUE),
        [f"{NAME}: 2027-01-04 is outside the days of the plan."],
    ),
    "vendor": (
        with_technician(vendor="Sandhills"),
        [f"{NAME}: vendor told as Loup, reckoned as Sandhills."],
    ),
    "one need more": (
        replace(ORDER, needs=(*ORDER.needs, need("4", "Birch"))),
        ["4/service/2027-01-20 is neither served nor unplaced."],
    ),
    "at another site": (
        with_first_need(site="Birch"),
        [f"{A1} is at Birch, not at Alder."],
    ),
    "service takes longer": (
        with_first_need(minutes=61),
        [f"{A1}: minutes told as 60, reckoned as 61."],
    ),
    "another fee": (
        with_first_need(fee=73_000),
        [f"{NAME}: cents of lost_days told as 4700, reckoned as 6300."],
    ),
    "kept days": (
        with_first_need(kept_days=16),
        [
            f"{A1}: lost_days told as 16, reckoned as 0.",
            f"{NAME}: cents of lost_days told as 4700, reckoned as 3100.",
        ],
    ),
    "a price for lost days": (
        replace(ORDER, prices=replace(ORDER.prices, lost_day=1)),
        [f"{NAME}: cents of lost_days told as 4700, reckoned as 47."],
    ),
    "prices": (
        replace(ORDER, prices=Prices(mile=71, hour=9501, trip=1, night=2, visit=3)),
        [
            f"{NAME}: cents of miles told as 34654, reckoned as 35149.",
            f"{NAME}: cents of hours told as 85500, reckoned as 85509.",
            f"{NAME}: cents of trips told as 15000, reckoned as 1.",
            f"{NAME}: cents of nights told as 14000, reckoned as 2.",
            f"{NAME}: cents of visits told as 8000, reckoned as 6.",
        ],
    ),
}


@pytest.mark.parametrize("what", OTHER_ORDERS)
def test_a_plan_of_another_order_is_refused(what: str) -> None:
    order, said = OTHER_ORDERS[what]
    _, lock, plan = told()

    assert faults(order, lock, plan) == said


def test_two_stops_in_a_row_at_a_site_are_refused() -> None:
    first = replace(FIRST, needs=FIRST.needs[:1], leaves_minute=240)
    second = replace(FIRST, needs=FIRST.needs[1:], arrives_minute=240, miles=0, drive_minutes=0)
    plan = with_trip(GOOD, visits=(first, second, SECOND))

    assert faults(ORDER, Lock(), plan) == [
        f"{NAME} stops twice in a row at Alder: that is one visit.",
        f"{NAME}: cents of visits told as 8000, reckoned as 12000.",
        "The plan: visits told as 2, reckoned as 3.",
    ]


def test_a_trip_without_a_visit_is_refused() -> None:
    plan = tell(Problem(ORDER), Plan((), (A1, A2, B1)))
    idle = replace(
        GOOD.trips[0],
        ends_on=MON,
        ends_minute=0,
        days=1,
        nights=0,
        miles=0,
        drive_minutes=0,
        visits=(),
        costs=Costs(trips=15000),
    )
    plan = replace(plan, trips=(idle,), costs=idle.costs, days=1)

    assert faults(ORDER, Lock(), plan) == [f"{NAME} has no visit."]


def test_a_trip_over_a_weekend_is_refused() -> None:
    trip = trip_by_hand(Problem(ORDER), Trip("Ash", FRI, (A1, A2, B1)), waits=False)

    assert faults(ORDER, Lock(), plan_by_hand(trip, Problem(ORDER))) == [
        "The trip of Ash on 2027-01-08 begins in one week and ends in another."
    ]


def test_a_need_served_on_two_trips_is_refused() -> None:
    order, lock, plan = told(*OUT_AND_OUT, Trip("Bay", WED, (B1,)))

    assert faults(order, lock, plan) == [f"{B1} is served 2 times."]


def test_two_trips_of_a_technician_on_one_day_are_refused() -> None:
    order, lock, plan = told(Trip("Ash", MON, (A1, A2)), Trip("Ash", MON, (B1,)))

    assert faults(order, lock, plan) == ["Ash is on 2 trips on 2027-01-04."]


def test_trips_out_of_their_order_are_refused() -> None:
    order, lock, plan = told(*reversed(OUT_AND_OUT))

    assert faults(order, lock, plan) == [
        "The trip of Ash on 2027-01-04 stands after that of Bay on 2027-01-04."
    ]


@pytest.mark.parametrize(
    "confirmed",
    [
        Trip("Ash", TUE, (A1, A2)),
        Trip("Bay", MON, (A1, A2)),
        Trip("Ash", MON, (A2, A1)),
        Trip("Ash", MON, (A1,)),
    ],
)
def test_a_confirmed_trip_that_is_not_as_it_was_is_refused(confirmed: Trip) -> None:
    order, lock, plan = told(*OUT_AND_OUT, lock=Lock(confirmed=(confirmed, OUT_AND_OUT[1])))

    assert faults(order, lock, plan) == [
        f"The confirmed trip of {confirmed.technician} on {confirmed.start_on} is not in the plan."
    ]


def test_a_need_moved_off_its_announced_day_costs_the_change() -> None:
    lock = Lock(announced={A1: MON, A2: TUE})
    plan = told(lock=lock)[2]

    assert plan.costs.changes == 2500
    assert faults(ORDER, lock, plan) == []
    assert faults(ORDER, Lock(), plan) == [f"{NAME}: cents of changes told as 2500, reckoned as 0."]
