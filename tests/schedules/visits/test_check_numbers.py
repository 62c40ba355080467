"""Does the checker find what is told wrongly: every name, time, number and sum?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace

import pytest

from schedules.visits.check import faults
from schedules.visits.model import Lock
from schedules.visits.told import ToldPlan
from tests.schedules.visits.good_plan import (
    A1,
    A2,
    ALDER,
    B1,
    BIRCH,
    FIRST,
    GOOD,
    MON,
    NAME,
    ORDER,
    SECOND,
    with_costs,
    with_need,
    with_trip,
    with_visit,
)

# Of each row: another plan than the good one of the order, and what is then wrong with it.
OTHER_PLANS: Mapping[str, tuple[ToldPlan, list[str]]] = {
    "an unknown technician": (
        with_trip(GOOD, technician="Cid"),
        ["The trip of Cid on 2027-01-04: Cid is no technician of the order."],
    ),
    "an unknown site": (
        with_visit(GOOD, 0, site="Cedar"),
        [f"{NAME}: Cedar is no site of the order."],
    ),
    "an unknown need": (
        with_need(GOOD, name="9"),
        [f"{A1} is neither served nor unplaced.", f"{NAME}: 9 is no need of the order."],
    ),
    "an unknown unplaced need": (
        replace(GOOD, unplaced=("9",)),
        ["9, among the unplaced, is no need of the order."],
    ),
    "served and unplaced": (
        replace(GOOD, unplaced=(B1,)),
        [f"{B1} is both served and unplaced."],
    ),
    "unplaced twice": (
        replace(GOOD, unplaced=(B1, B1)),
        [f"{B1} stands 2 times among the unplaced.", f"{B1} is both served and unplaced."],
    ),
    "depot": (
        with_trip(GOOD, depot="South"),
        [f"{NAME}: depot told as South, reckoned as North."],
    ),
    "a visit for nothing": (
        with_visit(GOOD, 1, needs=()),
        [
            f"{B1} is neither served nor unplaced.",
            f"{BIRCH} serves nothing.",
            f"{BIRCH}: leaving told as 2027-01-05 minute 90, reckoned as 2027-01-04 minute 420.",
            f"{NAME}: coming home told as 2027-01-05 minute 330,"
            " reckoned as 2027-01-05 minute 180.",
            f"{NAME}: cents of lost_days told as 4700, reckoned as 3200.",
            "The plan: needs told as 3, reckoned as 2.",
            "The plan: lost_days told as 47, reckoned as 32.",
        ],
    ),
    "a service cut by the night": (
        with_visit(
            GOOD,
            1,
            needs=(replace(SECOND.needs[0], on=MON, from_minute=420, to_minute=510),),
        ),
        [
            f"{B1} is still being served when the day of 2027-01-04 ends.",
            f"{B1}: lost_days told as 15, reckoned as 16.",
            f"{B1}: beginning told as 2027-01-04 minute 420, reckoned as 2027-01-05 minute 0.",
            f"{BIRCH}: leaving told as 2027-01-05 minute 90, reckoned as 2027-01-04 minute 510.",
            f"{NAME}: coming home told as 2027-01-05 minute 330,"
            " reckoned as 2027-01-05 minute 270.",
            f"{NAME}: cents of lost_days told as 4700, reckoned as 4800.",
        ],
    ),
    "arrival": (
        with_visit(GOOD, 0, arrives_minute=179),
        [f"{ALDER}: arrival told as 2027-01-04 minute 179, reckoned as 2027-01-04 minute 180."],
    ),
    "leg": (
        with_visit(GOOD, 0, miles=1, drive_minutes=2),
        [
            f"{ALDER}: miles told as 1, reckoned as 16505.",
            f"{ALDER}: drive_minutes told as 2, reckoned as 180.",
        ],
    ),
    "served before arrival": (
        with_need(GOOD, from_minute=170, to_minute=230),
        [
            f"{A1}: beginning told as 2027-01-04 minute 170, reckoned as 2027-01-04 minute 180.",
            f"{A2}: beginning told as 2027-01-04 minute 240, reckoned as 2027-01-04 minute 230.",
        ],
    ),
    "home": (
        with_trip(GOOD, ends_minute=329),
        [f"{NAME}: coming home told as 2027-01-05 minute 329, reckoned as 2027-01-05 minute 330."],
    ),
    "days of a trip": (
        with_trip(GOOD, days=1, nights=0),
        [
            f"{NAME}: days told as 1, reckoned as 2.",
            f"{NAME}: nights told as 0, reckoned as 1.",
            "The plan: days told as 2, reckoned as 1.",
            "The plan: nights told as 1, reckoned as 0.",
        ],
    ),
    "money of a trip": (
        with_costs(GOOD, miles=1),
        [
            f"{NAME}: cents of miles told as 1, reckoned as 34654.",
            "The plan: cents of miles told as 34654, reckoned as 1.",
        ],
    ),
    "money of the plan": (
        replace(GOOD, costs=replace(GOOD.costs, hours=1)),
        ["The plan: cents of hours told as 1, reckoned as 85500."],
    ),
}


@pytest.mark.parametrize("what", OTHER_PLANS)
def test_a_plan_that_is_told_wrongly_is_refused(what: str) -> None:
    plan, said = OTHER_PLANS[what]

    assert faults(ORDER, Lock(), plan) == said


def numbers_of(value: object) -> list[str]:
    """The names of its fields that hold a whole number."""
    names = [one.name for one in fields(value)]  # type: ignore[arg-type]
    return [name for name in names if isinstance(getattr(value, name), int)]


@pytest.mark.parametrize("name", numbers_of(GOOD))
def test_no_number_of_the_plan_can_be_told_wrongly(name: str) -> None:
    assert faults(ORDER, Lock(), replace(GOOD, **{name: getattr(GOOD, name) + 1})) != []


@pytest.mark.parametrize("name", numbers_of(GOOD.trips[0]))
def test_no_number_of_a_trip_can_be_told_wrongly(name: str) -> None:
    plan = with_trip(GOOD, **{name: getattr(GOOD.trips[0], name) + 1})

    assert any(fault.startswith(NAME) for fault in faults(ORDER, Lock(), plan))


@pytest.mark.parametrize("name", numbers_of(FIRST))
def test_no_number_of_a_visit_can_be_told_wrongly(name: str) -> None:
    plan = with_visit(GOOD, 0, **{name: getattr(FIRST, name) + 1})

    assert any(fault.startswith(ALDER) for fault in faults(ORDER, Lock(), plan))


@pytest.mark.parametrize("name", numbers_of(FIRST.needs[0]))
def test_no_number_of_a_need_can_be_told_wrongly(name: str) -> None:
    plan = with_need(GOOD, **{name: getattr(FIRST.needs[0], name) + 1})

    assert any(fault.startswith(A1) for fault in faults(ORDER, Lock(), plan))


@pytest.mark.parametrize("name", numbers_of(GOOD.costs))
def test_no_part_of_the_money_can_be_told_wrongly(name: str) -> None:
    more = {name: getattr(GOOD.costs, name) + 1}
    trip_and_plan = replace(with_costs(GOOD, **more), costs=replace(GOOD.costs, **more))

    assert len(faults(ORDER, Lock(), trip_and_plan)) == 1
    assert len(faults(ORDER, Lock(), replace(GOOD, costs=replace(GOOD.costs, **more)))) == 1
