"""Which duties must be visited within a span, and in which days (design 4.3, 4.4)?"""

from __future__ import annotations

import pytest

from fleet.domain.evidence import Extension
from fleet.domain.records import Outage, Placement
from fleet.errors import BadInput
from fleet.services.questions import Narrow
from fleet.services.visits.order import Ordered
from schedules.visits.model import Need
from tests.fleet.services.visits.visit_fleet import need, ordered, record_with, unit
from tests.outside import day

SERVED = {"A-1/service": "2025-07-15"}
"""Due on Wednesday 15 July 2026."""


def windows(found: Ordered) -> list[tuple[str, str, str, str, str]]:
    """Each need's unit, first day, nominal date, due date and last day."""
    return [
        (n.property_number, f"{n.opens_on}", f"{n.nominal_on}", f"{n.due_on}", f"{n.limit_on}")
        for n in found.order.needs
    ]


def an_outage(from_on: str, to_on: str | None, number: str = "A-1") -> Outage:
    end = day(to_on) if to_on else None
    return Outage(property_number=number, from_on=day(from_on), to_on=end, reason="lamp")


def test_a_need_is_the_rule_s_window_within_the_span() -> None:
    found = ordered(record_with(unit("A-1"), done=SERVED))

    assert need(found) == Need(
        property_number="A-1",
        task="service",
        kind="microscope",
        site="alder",
        opens_on=day("2026-06-01"),
        nominal_on=day("2026-07-15"),
        due_on=day("2026-07-15"),
        limit_on=day("2026-07-30"),
        minutes=45,
        fee=8500,
        interval_days=365,
    )
    assert (found.notes, found.failures, found.past_limit) == ([], [], {})


@pytest.mark.parametrize(
    ("from_on", "to_on", "window"),
    [
        ("2026-05-01", "2026-12-31", ("2026-05-31", "2026-07-30")),
        ("2026-07-20", "2026-12-31", ("2026-07-20", "2026-07-30")),
        ("2026-07-30", "2026-12-31", ("2026-07-30", "2026-07-30")),
        ("2026-05-01", "2026-07-15", ("2026-05-31", "2026-07-15")),
    ],
)
def test_the_window_is_cut_to_the_span(from_on: str, to_on: str, window: tuple[str, str]) -> None:
    found = need(ordered(record_with(unit("A-1"), done=SERVED), from_on, to_on))

    assert (f"{found.opens_on}", f"{found.limit_on}") == window


def test_what_is_due_after_the_span_is_no_need_though_its_window_is_open() -> None:
    assert (
        ordered(record_with(unit("A-1"), done=SERVED), "2026-06-01", "2026-07-14").order.needs == ()
    )


def test_what_is_past_its_limit_gets_the_time_to_catch_up() -> None:
    found = ordered(record_with(unit("A-1"), done=SERVED), "2026-07-31", "2026-12-31")

    assert windows(found) == [("A-1", "2026-07-31", "2026-07-15", "2026-07-15", "2026-08-28")]
    assert found.past_limit == {"A-1/service/2026-07-15": day("2026-07-30")}


def test_an_extension_puts_the_limit_off() -> None:
    granted = Extension(
        property_number="A-1", task="service", from_on=day("2026-07-01"),
        until_on=day("2026-09-10"), reason="the vendor is ill", granted_by="Noor",
    )  # fmt: skip

    found = ordered(record_with(unit("A-1"), granted, done=SERVED), "2026-08-15", "2026-12-31")

    assert windows(found) == [("A-1", "2026-08-15", "2026-07-15", "2026-07-15", "2026-09-10")]
    assert found.past_limit == {}


def test_a_duty_recurs_as_if_it_was_done_on_its_due_date() -> None:
    record = record_with(unit("P-1", "pipette"), done={"P-1/calibration": "2026-03-05"})

    found = ordered(record, "2026-06-01", "2026-12-31")

    # 5 December is a Saturday: the day before it is rolled to lies within the five that keep 5
    # September's anchor (itself a Saturday, so due on Friday 4 September).
    assert windows(found) == [
        ("P-1", "2026-06-01", "2026-06-05", "2026-06-05", "2026-06-05"),
        ("P-1", "2026-08-26", "2026-09-05", "2026-09-04", "2026-09-05"),
        ("P-1", "2026-11-25", "2026-12-05", "2026-12-04", "2026-12-05"),
    ]
    assert found.order.needs[0].kept_days == 5
    assert found.notes == [
        "due more than once in the span, counted as if the visit before fell on its due date:"
        " P-1 calibration",
        "no fee in the rule book, so being early costs nothing: pipette calibration",
    ]


def test_what_follows_one_past_its_limit_is_counted_from_the_first_day() -> None:
    record = record_with(unit("P-1", "pipette"), done={"P-1/calibration": "2026-01-05"})

    found = ordered(record, "2026-06-01", "2026-09-30")

    assert windows(found) == [
        ("P-1", "2026-06-01", "2026-04-05", "2026-04-03", "2026-06-29"),
        ("P-1", "2026-08-22", "2026-09-01", "2026-09-01", "2026-09-01"),
    ]


def test_a_fixed_rule_comes_on_its_own_dates_and_loses_nothing() -> None:
    record = record_with(unit("C-1", "cabinet"), done={"C-1/certification": "2026-02-27"})

    found = ordered(record, "2026-06-01", "2027-06-30")

    assert windows(found) == [
        ("C-1", "2026-08-12", "2026-09-01", "2026-09-01", "2026-09-06"),
        ("C-1", "2027-02-09", "2027-03-01", "2027-03-01", "2027-03-06"),
    ]
    assert {n.interval_days for n in found.order.needs} == {0}


def test_a_unit_is_visited_where_it_stands_on_the_due_date() -> None:
    moved = Placement(property_number="A-1", site="birch", from_on=day("2026-07-14"))

    found = need(ordered(record_with(unit("A-1"), moved, done=SERVED)))

    assert found.site == "birch"
    assert (min(found.closed_on), max(found.closed_on)) == (day("2026-06-01"), day("2026-07-13"))
    assert len(found.closed_on) == 43


def test_days_of_a_foreseen_outage_do_not_suit() -> None:
    away = an_outage("2026-07-20", "2026-07-23")

    found = need(ordered(record_with(unit("A-1"), away, done=SERVED)))

    assert sorted(map(str, found.closed_on)) == ["2026-07-20", "2026-07-21", "2026-07-22"]


def test_a_unit_that_is_out_is_asked_about_on_the_day_it_comes_back() -> None:
    away = an_outage("2026-05-20", "2026-08-10")

    found = ordered(record_with(unit("A-1"), away, done=SERVED))

    assert windows(found) == [("A-1", "2026-08-10", "2026-08-10", "2026-08-10", "2026-08-25")]


@pytest.mark.parametrize("from_on", ["2026-05-20", "2026-07-01"])
def test_a_unit_that_does_not_come_back_is_not_visited_and_that_is_told(from_on: str) -> None:
    found = ordered(record_with(unit("A-1"), an_outage(from_on, None), done=SERVED))

    assert found.order.needs == ()
    assert found.notes == ["1 unit is out of service without a day of return, and not visited: A-1"]


@pytest.mark.parametrize(
    ("retired_on", "limit"), [("2026-07-16", "2026-07-15"), ("2026-09-01", "2026-07-30")]
)
def test_a_unit_is_visited_before_it_is_retired(retired_on: str, limit: str) -> None:
    found = need(ordered(record_with(unit("A-1", retired_on=day(retired_on)), done=SERVED)))

    assert f"{found.limit_on}" == limit


@pytest.mark.parametrize("retired_on", ["2026-05-01", "2026-06-01", "2026-07-15"])
def test_a_unit_that_is_retired_before_it_is_due_is_not_visited(retired_on: str) -> None:
    record = record_with(unit("A-1", retired_on=day(retired_on)), done=SERVED)

    assert (ordered(record).order.needs, ordered(record).notes) == ((), [])


def test_a_unit_that_enters_service_within_the_span_is_asked_about_on_that_day() -> None:
    new = unit("P-2", "pipette", in_service_on=day("2026-07-01"))

    found = ordered(record_with(new), "2026-06-01", "2026-10-31")

    assert windows(found) == [("P-2", "2026-09-21", "2026-10-01", "2026-10-01", "2026-10-01")]


@pytest.mark.parametrize(
    ("narrow", "numbers"),
    [
        (Narrow(sites=("BIRCH",)), ["A-2"]),
        (Narrow(counties=("adams",)), ["A-1", "P-1"]),
        (Narrow(regions=("West",), kinds=("Pipette",)), ["P-1"]),
    ],
)
def test_a_plan_may_be_narrowed_to_places_and_kinds(narrow: Narrow, numbers: list[str]) -> None:
    record = record_with(
        unit("A-1"),
        unit("A-2", site="birch"),
        unit("P-1", "pipette"),
        done={**SERVED, "A-2/service": "2025-07-15", "P-1/calibration": "2026-04-15"},
    )

    found = ordered(record, to_on="2026-08-01", narrow=narrow)

    assert [n.property_number for n in found.order.needs] == numbers


def test_a_rule_without_minutes_is_refused() -> None:
    record = record_with(unit("B-1", "balance"), done={"B-1/check": "2025-07-15"})

    with pytest.raises(BadInput) as refused:
        ordered(record)

    assert str(refused.value) == (
        "rule book, kind balance, check: it has no minutes, so that no visit can be timed; add how"
        " long the vendor's service takes, as minutes = 45, and load the book again"
    )
