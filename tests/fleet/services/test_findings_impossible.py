"""Is every mark of a day on which it cannot have been made found, and no other (design 4.7)?"""

from __future__ import annotations

import datetime as dt

import pytest

from fleet.domain.records import Mark
from tests.fleet.services.audit_fleet import FIRST, AuditFleet, at, march

WED, THU, FRI = march(11), march(12), march(13)
YEAR_2040, FAR_ON = dt.date(2040, 1, 1), dt.date(2090, 1, 1)
SATURDAY_BEFORE = FIRST - dt.timedelta(days=2)


def test_a_mark_before_service_is_impossible() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("early", SATURDAY_BEFORE)

    (row,) = fleet.rows()

    assert (row.finding, row.on, row.entries) == ("impossible", SATURDAY_BEFORE, "early")
    assert row.settle == (
        "The unit was not in service yet; strike the entry, or load the right day of issue:"
        " dueward strike early --why '...'"
    )


@pytest.mark.parametrize(("mark", "findings"), [(Mark.DONE, 0), (Mark.UNUSED, 1)])
def test_only_a_service_done_is_possible_before_issue(mark: Mark, findings: int) -> None:
    fleet = AuditFleet.clean()
    fleet.mark("central", SATURDAY_BEFORE, mark, task="annual-service")

    assert len(fleet.rows("impossible")) == len(fleet.rows()) == findings


@pytest.mark.parametrize("task", ["optics", "annual-service"])
def test_a_mark_after_retirement_is_impossible(task: str) -> None:
    left_out = (("optics", march(day)) for day in (26, 27, 30, 31))
    fleet = AuditFleet.clean(*left_out, retired_on=march(26))
    fleet.mark("last", march(26), task=task)

    (row,) = fleet.rows()

    assert (row.finding, row.task, row.on, row.entries) == ("impossible", task, march(26), "last")
    assert row.settle == (
        "The unit had been retired; strike the entry, or load the right day of retirement:"
        " dueward strike last --why '...'"
    )


def test_a_mark_recorded_before_its_day_is_impossible_by_the_clock_of_its_site() -> None:
    fleet = AuditFleet.clean(("optics", WED), ("optics", THU))
    fleet.mark("ahead", WED, recorded=at(march(10), 23, 59))
    fleet.mark("right", THU, recorded=at(THU, 0, 1))

    (row,) = fleet.rows()

    assert (row.finding, row.on, row.entries) == ("impossible", WED, "ahead")
    assert row.settle == (
        "It was recorded on 2026-03-10, before the day it speaks of; strike it, and mark the day"
        " anew if it was done: dueward strike ahead --why '...'"
    )


def test_a_span_that_runs_ahead_is_impossible_from_the_first_day_ahead() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("span", WED, recorded=at(THU, 17), to_on=march(16))

    assert fleet.told() == [("impossible", "optics", FRI, "span")]


def test_a_span_that_runs_ahead_is_told_in_every_window_it_runs_through() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("span", WED, recorded=at(THU, 17), to_on=march(31))

    (row,) = fleet.rows("impossible", from_on=march(21), to_on=march(25))

    assert (row.on, row.entries) == (march(23), "span")
    assert row.settle == (
        "It was recorded on 2026-03-12 and runs on to 2026-03-31, over days still to come; strike"
        " it, and mark the days anew that were done: dueward strike span --why '...'"
    )
    assert fleet.rows("impossible", from_on=march(10), to_on=march(12)) == []


def test_a_mistyped_year_is_told_at_once() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("typo", dt.date(2027, 3, 11), recorded=at(THU))
    fleet.mark("far", dt.date(2099, 12, 31), recorded=at(THU))

    (row,) = fleet.rows(on=FRI, to_on=dt.date(2027, 12, 31))

    assert (row.finding, row.on, row.entries) == ("impossible", dt.date(2027, 3, 11), "typo")
    assert (row.period_from, row.closes) == (row.on, row.on)
    assert row.settle == (
        "It was recorded on 2026-03-12, before the day it speaks of; strike it, and mark the day"
        " anew if it was done: dueward strike typo --why '...'"
    )
    far = fleet.rows(on=FRI, from_on=dt.date(2028, 1, 1), to_on=dt.date(2099, 12, 31))
    assert [(row.finding, row.on, row.entries, row.closes) for row in far] == [
        ("impossible", dt.date(2099, 12, 31), "far", None)
    ]
    assert fleet.rows(on=FRI, to_on=dt.date(2027, 3, 10)) == []


def test_only_what_was_ahead_when_recorded_is_told_of_days_after_the_day_asked_for() -> None:
    fleet = AuditFleet.clean(retired_on=march(30))
    for day in (30, 31):
        fleet.mark(f"after{day}", march(day))
    fleet.mark("ahead", march(31), recorded=at(march(28)), initials="")

    assert fleet.told(on=march(27)) == [("impossible", "optics", march(31), "ahead")]


@pytest.mark.parametrize(
    ("from_on", "to_on", "window", "on"),
    [
        (WED, march(31), (WED, march(31)), FRI),
        (march(14), march(31), (march(14), FAR_ON), march(16)),
        (march(28), FAR_ON, (dt.date(2027, 3, 13), FAR_ON), dt.date(2027, 3, 15)),
        (WED, FAR_ON, (YEAR_2040, FAR_ON), YEAR_2040),
        (YEAR_2040, FAR_ON, (FIRST, FAR_ON), YEAR_2040),
        (YEAR_2040, FAR_ON, (FIRST, YEAR_2040 - dt.timedelta(days=1)), None),
    ],
    ids=["running", "to come", "a later window", "far window", "far ahead", "beyond the window"],
)
def test_a_span_ahead_is_told_before_its_days_come(
    from_on: dt.date,
    to_on: dt.date,
    window: tuple[dt.date, dt.date],
    on: dt.date | None,
) -> None:
    """Far beyond the calendars (2040-01-01 is a Sunday) each of its days counts."""
    fleet = AuditFleet.clean()
    fleet.mark("span", from_on, recorded=at(THU, 17), to_on=to_on)

    rows = fleet.rows("impossible", on=THU, from_on=window[0], to_on=window[1])

    assert [row.on for row in rows] == ([] if on is None else [on])


def test_a_span_that_begins_before_service_speaks_of_the_days_in_service() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("month", march(1), source="file", recorded=at(march(31)), to_on=march(31))
    fleet.mark("before", dt.date(2026, 2, 2), source="file", to_on=march(1))

    assert fleet.told(from_on=dt.date(2026, 1, 1)) == [
        ("impossible", "optics", dt.date(2026, 2, 2), "before")
    ]
