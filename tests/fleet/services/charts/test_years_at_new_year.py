"""What stands on the charts of a year that is over, and where do cells about New Year stand?"""

from __future__ import annotations

from typing import Any

import pytest

from fleet.domain.records import Closure, Placement, Unit
from fleet.errors import BadInput
from fleet.services.charts.years import ChartsAnswer
from tests.fakes import FakeRecord
from tests.fleet.services.charts.year_fleet import (
    ALDER,
    BIRCH,
    DAILY,
    MONTHLY,
    WEEKLY,
    YEARLY,
    a_fleet,
    a_unit,
    answered,
    chart_of,
    day,
    marked,
    on_days,
    signs,
)


def told(answer: ChartsAnswer) -> list[tuple[str, str]]:
    return [(chart.site.site, chart.unit.property_number) for chart in answer.charts]


def refusal(record: FakeRecord, year: int = 2026, **asked: Any) -> str:
    with pytest.raises(BadInput) as caught:
        answered(record, year, **asked)
    return str(caught.value)


def test_a_past_year_is_shown_as_it_ended() -> None:
    record = a_fleet(DAILY, MONTHLY, YEARLY)
    marked(record, "service", "2025-06-02", "2026-01-01")

    chart = chart_of(record, 2025)

    assert chart.on == day("2026-01-01")
    assert on_days(chart, "wipe", "2025-12-29", "2025-12-31") == ",,,"
    assert on_days(chart, "", "2025-12-29", "2025-12-31") == ",,,"
    assert signs(chart, "grease") == "," * 12
    assert chart.dated[0].last_done == day("2025-06-02")


@pytest.mark.parametrize(
    ("on", "looked_at", "last_weeks", "december"),
    [
        ("2026-12-31", "2026-12-31", ",.", "."),
        ("2027-01-01", "2027-01-01", ",d", ","),
        ("2027-01-04", "2027-01-04", ",d", ","),
        ("2027-02-05", "2027-01-04", ",d", ","),
    ],
)
def test_a_past_year_is_read_to_the_sunday_of_its_last_week(
    on: str, looked_at: str, last_weeks: str, december: str
) -> None:
    """Week 53 of 2026 ends on Sunday 3 January 2027 (ISO 8601)."""
    record = a_fleet(WEEKLY, MONTHLY, YEARLY)
    marked(record, "scrub", "2027-01-01")
    marked(record, "service", "2027-01-01")

    chart = chart_of(record, on=on)

    assert chart.on == day(looked_at)
    assert signs(chart, "scrub")[-2:] == last_weeks
    assert signs(chart, "grease")[-1] == december
    assert chart.dated[0].last_done is None


def test_days_before_the_year_s_first_week_hold_their_marks() -> None:
    """The first Monday of the weeks of 2027 is 4 January (ISO 8601)."""
    record = a_fleet(DAILY)
    marked(record, "wipe", "2027-01-01")

    assert on_days(chart_of(record, 2027, on="2027-01-02"), "wipe", "2027-01-01", "2027-01-04") == (
        "dWW."
    )


def test_a_week_that_closes_next_year_at_another_site_has_a_chart_there() -> None:
    """The unit moves on Friday 1 January 2027, the last day of week 53 that is worked."""
    move = Placement(property_number="A-1", site="birch", from_on=day("2027-01-01"))

    at_birch, at_alder = answered(a_fleet(DAILY, WEEKLY, records=[move])).charts

    assert (at_birch.site, at_alder.site) == (BIRCH, ALDER)
    assert (signs(at_alder, "scrub")[-2:], signs(at_birch, "scrub")[-2:]) == (".E", "E.")
    assert set(at_birch.days) == {"E"}
    assert told(answered(a_fleet(DAILY, records=[move]))) == [("alder", "A-1")]


def test_a_week_that_was_worked_before_the_year_has_a_chart_of_the_year() -> None:
    """Week 1 of 2026 begins on Monday 29 December 2025 (ISO 8601)."""
    retired = a_unit(retired_on=day("2026-01-01"))

    chart = chart_of(a_fleet(WEEKLY, units=[retired]))

    assert signs(chart, "scrub") == "," + "R" * 52
    assert set(chart.days) == {"R"}


@pytest.mark.parametrize(
    ("unit", "closed"),
    [
        (a_unit(retired_on=day("2026-01-01")), ("2025-12-29", "2025-12-31")),
        (a_unit(in_service_on=day("2027-01-01")), ("2027-01-01", "2027-01-01")),
    ],
)
def test_days_of_a_week_beyond_the_year_that_ask_for_nothing_make_no_chart(
    unit: Unit, closed: tuple[str, str]
) -> None:
    days = day(closed[0]), day(closed[1])
    shut = Closure(site="alder", from_on=days[0], to_on=days[1], reason="shut")
    other = a_unit("A-2", in_service_on=day("2025-01-06"))
    record = a_fleet(WEEKLY, units=[unit, other], records=[shut])

    assert told(answered(record)) == [("alder", "A-2")]
    assert refusal(record, numbers=("A-1",)).startswith(
        "--year: no unit asked for was in service in 2026; give a year from 202"
    )
