"""Does the reference agree with tables from outside, and with the calendar rules of design 4.2?"""

from __future__ import annotations

import datetime as dt

import pytest

from tests.outside import rows
from tests.reference.calendars import RefCalendar, RefNoOpenDay
from tests.reference.dates import add, days_between, period_label
from tests.reference.records import (
    RefClosure,
    RefFleet,
    RefHoliday,
    RefPattern,
    RefSite,
)
from tests.reference.small import day

EVERY_DAY = (0, 1, 2, 3, 4, 5, 6)
HOLIDAYS_OF = {
    "weekends_only": "",
    "us_federal_observed": "us_federal_holidays",
    "nebraska_statute_62_301": "nebraska_holidays",
}


def a_calendar(
    open_days: tuple[int, ...] = (0, 1, 2, 3, 4),
    closures: tuple[RefClosure, ...] = (),
    holidays: tuple[RefHoliday, ...] = (),
    patterns: tuple[RefPattern, ...] = (),
) -> RefCalendar:
    site = RefSite(site="Alder", open_days=open_days)
    fleet = RefFleet(
        sites=[site], units=[], rules=[], closures=closures, holidays=holidays, patterns=patterns
    )
    return RefCalendar(fleet, site)


def a_calendar_with(table: str) -> RefCalendar:
    holidays = [
        RefHoliday(site="Alder", on=day(line["observed_date"]), name="holiday")
        for line in (rows(table) if table else [])
    ]
    return a_calendar(holidays=tuple(holidays))


def closed(
    first: str, last: str, reason: str = "flood repair", is_open: bool = False
) -> RefClosure:
    return RefClosure(
        site="Alder", from_on=day(first), to_on=day(last), reason=reason, open=is_open
    )


@pytest.mark.parametrize("line", rows("month_addition"), ids=lambda line: line["id"])
def test_month_addition_matches_the_table(line: dict[str, str]) -> None:
    moved = add(day(line["start_date"]), int(line["months_to_add"]), "M")

    assert moved == day(line["expected_clamped"])


def test_multiples_are_counted_from_the_anchor() -> None:
    for line in rows("anchored_vs_chained"):
        months = int(line["interval_months"]) * int(line["occurrence_number"])

        assert add(day(line["anchor_date"]), months, "M") == day(line["expected_anchored"])


def test_a_year_after_a_leap_day_is_28_february() -> None:
    for line in rows("leap_day_anniversaries"):
        moved = add(day(line["start_date"]), int(line["years_later"]), "Y")

        assert moved == day(line["expected_february_28_convention"])


def test_weeks_are_iso_weeks() -> None:
    for line in rows("iso_week_dates"):
        label = period_label(day(line["date"]), "week")

        assert label == (int(line["iso_year"]), int(line["iso_week"]))


@pytest.mark.parametrize("name", HOLIDAYS_OF)
@pytest.mark.parametrize("how", ["following", "preceding", "modified-following"])
def test_rolls_match_the_table_of_business_day_conventions(name: str, how: str) -> None:
    calendar = a_calendar_with(HOLIDAYS_OF[name])

    for line in rows("business_day_adjustment"):
        if line["calendar"] == name:
            assert calendar.roll(day(line["date"]), how) == day(line[how.replace("-", "_")])


@pytest.mark.parametrize(
    ("table", "column"),
    [
        ("us_federal_holidays", "working_days_federal"),
        ("nebraska_holidays", "working_days_nebraska"),
    ],
)
def test_open_days_of_each_month_match_the_table(table: str, column: str) -> None:
    calendar = a_calendar_with(table)

    for line in rows("working_days_per_month"):
        first_on = dt.date(int(line["year"]), int(line["month"]), 1)
        last_on = first_on + dt.timedelta(int(line["days_in_month"]) - 1)

        assert sum(map(calendar.is_open, days_between(first_on, last_on))) == int(line[column])


@pytest.mark.parametrize(
    ("each", "first", "last"),
    [
        ("open-day", "2026-05-31", "2026-05-31"),
        ("week", "2026-12-28", "2027-01-03"),
        ("month", "2024-02-01", "2024-02-29"),
        ("quarter", "2026-04-01", "2026-06-30"),
        ("half-year", "2026-07-01", "2026-12-31"),
        ("year", "2026-01-01", "2026-12-31"),
    ],
)
def test_a_period_holds_its_first_and_last_day_and_no_day_beside(
    each: str, first: str, last: str
) -> None:
    label = period_label(day(first), each)

    assert period_label(day(last), each) == label
    assert period_label(day(first) - dt.timedelta(1), each) != label
    assert period_label(day(last) + dt.timedelta(1), each) != label


def test_the_first_that_speaks_says_why_a_day_is_closed() -> None:
    calendar = a_calendar(
        closures=(
            closed("2026-07-02", "2026-07-06"),
            closed("2026-07-05", "2026-07-05", "inventory day", is_open=True),
        ),
        holidays=(
            RefHoliday(site="Alder", on=day("2026-07-03"), name="Independence Day (observed)"),
            RefHoliday(site="Alder", on=day("2026-09-07"), name="Labor Day"),
        ),
    )

    assert calendar.why_closed(day("2026-07-01")) is None
    assert calendar.why_closed(day("2026-07-03")) == "flood repair"
    assert calendar.why_closed(day("2026-07-05")) is None
    assert calendar.why_closed(day("2026-07-06")) == "flood repair"
    assert calendar.why_closed(day("2026-07-11")) == "Saturday"
    assert calendar.why_closed(day("2026-09-07")) == "Labor Day"


def test_a_weekly_pattern_holds_from_its_first_day_on() -> None:
    tuesdays = RefPattern(site="Alder", from_on=day("2026-03-04"), open_days=(1,))
    sundays = RefPattern(site="Alder", from_on=day("2026-03-15"), open_days=(6,))
    calendar = a_calendar(patterns=(sundays, tuesdays))
    march = days_between(day("2026-03-01"), day("2026-03-22"))

    assert [open_on.day for open_on in march if calendar.is_open(open_on)] == [2, 3, 10, 15, 22]


def test_modified_following_may_leave_the_month_backwards() -> None:
    calendar = a_calendar(EVERY_DAY, (closed("2026-05-01", "2026-05-31"),))

    assert calendar.roll(day("2026-05-10"), "modified-following") == day("2026-04-30")
    assert calendar.roll(day("2026-05-10"), "following") == day("2026-06-01")


def test_modified_following_compares_the_year_as_well_as_the_month() -> None:
    calendar = a_calendar(EVERY_DAY, (closed("2025-03-15", "2026-03-14"),))

    assert calendar.roll(day("2025-03-15"), "following") == day("2026-03-15")
    assert calendar.roll(day("2025-03-15"), "modified-following") == day("2025-03-14")


def test_the_366th_day_is_still_searched_and_the_next_is_not() -> None:
    closure = closed("2025-01-01", "2026-01-01")
    calendar = a_calendar(EVERY_DAY, (closure,))

    assert calendar.roll(day("2025-01-01"), "following") == day("2026-01-02")
    assert calendar.roll(day("2026-01-01"), "preceding") == day("2024-12-31")

    longer = a_calendar(EVERY_DAY, (closure, closed("2026-01-02", "2026-01-02")))
    for how in ("following", "modified-following"):
        with pytest.raises(RefNoOpenDay) as refused:
            longer.roll(day("2025-01-01"), how)
        assert str(refused.value) == (
            "site Alder: no open day within 366 days of 2025-01-01;"
            " check its closures and its weekly pattern"
        )
