"""Do the shipped calendars keep the days the law names?"""

from __future__ import annotations

import datetime as dt
from importlib.metadata import version

import pytest

from fleet.errors import NotFound
from fleet.files.public_holidays import Correction, PublicHolidayCalendar, shipped_corrections
from tests import outside


def holidays(subdivision: str, year: int) -> dict[dt.date, str]:
    return dict(PublicHolidayCalendar().year("US", subdivision, year).names)


@pytest.mark.parametrize("year", ["2025", "2026", "2027", "2028"])
def test_nebraska_keeps_the_thirteen_holidays_of_the_statute(year: str) -> None:
    """Neb. Rev. Stat. 62-301(1) with the federal schedule for weekends (62-301, 25-2221)."""
    rows = [row for row in outside.rows("nebraska_holidays") if row["holiday_year"] == year]
    assert len(rows) == 13

    for row in rows:
        for on in (row["legal_date"], row["observed_date"]):
            day = dt.date.fromisoformat(on)
            assert day in holidays("NE", day.year), f"{row['name_in_statute']} on {on}"


@pytest.mark.parametrize("year", [2025, 2026, 2027])
def test_nebraska_keeps_no_other_weekday(year: int) -> None:
    """The statute's list is complete; New Year 2028 is observed on 2027-12-31."""
    rows = outside.rows("nebraska_holidays")
    observed = {dt.date.fromisoformat(row["observed_date"]) for row in rows}
    weekdays = {day for day in holidays("NE", year) if day.weekday() < 5}

    assert weekdays == {day for day in observed if day.year == year}


@pytest.mark.parametrize("year", range(2019, 2029))
def test_federal_holidays_are_those_of_the_law(year: int) -> None:
    """5 U.S.C. 6103 and E.O. 11582 sec. 3(a); each weekday observed, and no other."""
    rows = outside.rows("us_federal_holidays")
    observed = {dt.date.fromisoformat(row["observed_date"]) for row in rows}
    weekdays = {day for day in holidays("", year) if day.weekday() < 5}
    next_new_year = {dt.date(2028, 12, 31)}

    assert weekdays - next_new_year == {day for day in observed if day.year == year}


def test_each_shipped_correction_names_its_source() -> None:
    for correction in shipped_corrections():
        assert correction.source
        assert correction.kept in ("yes", "no")
        assert PublicHolidayCalendar().knows(correction.country, correction.subdivision)
        assert correction.day(2026) is not None or correction.on[:4].isdigit()


@pytest.mark.parametrize(
    ("on", "day"),
    [
        ("1st Mon Sep", dt.date(2026, 9, 7)),
        ("last Fri Apr", dt.date(2026, 4, 24)),
        ("4th Thu Nov +1", dt.date(2026, 11, 27)),
        ("last Mon May -3", dt.date(2026, 5, 22)),
        ("2026-12-24", dt.date(2026, 12, 24)),
        ("2025-12-24", None),
    ],
)
def test_a_correction_is_a_date_or_a_rule(on: str, day: dt.date | None) -> None:
    assert Correction("US", "NE", on, "yes", "x", "a test").day(2026) == day


def test_a_correction_can_take_a_day_out() -> None:
    out = Correction("US", "NE", "last Fri Apr", "no", "Arbor Day", "a test")
    kept = PublicHolidayCalendar((out,)).year("US", "NE", 2026)

    assert dt.date(2026, 4, 24) not in kept.names
    assert kept.origin == f"holidays {version('holidays')}, 1 shipped corrections"


def test_an_unknown_place_is_told() -> None:
    calendar = PublicHolidayCalendar()

    assert not calendar.knows("US", "Nebraska")
    with pytest.raises(NotFound) as refused:
        calendar.year("US", "XX", 2026)
    assert str(refused.value) == (
        "no place with known holidays 'US XX'; write codes such as US and NE"
    )
