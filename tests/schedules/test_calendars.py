"""Do sites open and dates roll as laws, QuantLib and design 4.2 say?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
import QuantLib
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.files.public_holidays import PublicHolidayCalendar
from schedules.calendars import CalendarIndex, Closed, SiteCalendar, Spell
from schedules.dates import date_of, day_of
from schedules.errors import NoOpenDay, OutsideCalendar
from schedules.rules import Roll
from tests.outside import day, rows
from tests.schedules.one_unit import EVERY_DAY, MON_TO_FRI, a_site, closed

FIRST_ON, LAST_ON = dt.date(2024, 1, 1), dt.date(2029, 12, 31)
MOVING = (Roll.FOLLOWING, Roll.PRECEDING, Roll.MODIFIED_FOLLOWING)
CONVENTIONS = {
    Roll.NONE: QuantLib.Unadjusted,
    Roll.FOLLOWING: QuantLib.Following,
    Roll.PRECEDING: QuantLib.Preceding,
    Roll.MODIFIED_FOLLOWING: QuantLib.ModifiedFollowing,
}
HOLIDAYS_OF = {
    "weekends_only": "",
    "us_federal_observed": "us_federal_holidays",
    "nebraska_statute_62_301": "nebraska_holidays",
}


def an_index(
    *sites: SiteCalendar, first_on: dt.date = FIRST_ON, last_on: dt.date = LAST_ON
) -> CalendarIndex:
    return CalendarIndex(sites, first_on, last_on)


def rolled(index: CalendarIndex, on: dt.date, how: Roll, calendar: int = 0) -> dt.date:
    days = np.array([day_of(on)], dtype=np.int32)
    return date_of(index.roll(days, how, np.array([calendar]))[0])


def holidays_of(table: str) -> dict[dt.date, str]:
    return {day(line["observed_date"]): "holiday" for line in (rows(table) if table else [])}


def kept_in(subdivision: str) -> dict[dt.date, str]:
    """The public holidays as the program looks them up, 2024 to 2029."""
    library = PublicHolidayCalendar()
    years = (library.year("US", subdivision, year).names for year in range(2024, 2030))
    return {on: name for names in years for on, name in names.items()}


def open_days(index: CalendarIndex, after: dt.date, until: dt.date, calendar: int = 0) -> int:
    days = np.array([day_of(after)], dtype=np.int32)
    return int(index.open_days_within(days, day_of(until), np.array([calendar]))[0])


# --- against the outside


@pytest.mark.parametrize("name", HOLIDAYS_OF)
@pytest.mark.parametrize("how", MOVING)
def test_rolls_match_the_table_of_business_day_conventions(name: str, how: Roll) -> None:
    """QuantLib 1.44; ISDA 2006 4.12(a), FpML 5.11 (B-26 to B-30)."""
    index = an_index(a_site(MON_TO_FRI, holidays=holidays_of(HOLIDAYS_OF[name])))
    lines = [line for line in rows("business_day_adjustment") if line["calendar"] == name]

    for line in lines:
        assert rolled(index, day(line["date"]), how) == day(line[how.value.replace("-", "_")])
    assert len(lines) in (24, 7)


@pytest.mark.parametrize(
    ("subdivision", "column"), [("", "working_days_federal"), ("NE", "working_days_nebraska")]
)
def test_open_days_of_each_month_match_the_table(subdivision: str, column: str) -> None:
    """5 U.S.C. 6103 and Neb. Rev. Stat. 62-301, month by month (B-33), by the shipped holidays."""
    index = an_index(a_site(MON_TO_FRI, holidays=kept_in(subdivision)))

    for line in rows("working_days_per_month"):
        first_on = dt.date(int(line["year"]), int(line["month"]), 1)
        before = first_on - dt.timedelta(1)
        last_on = before + dt.timedelta(int(line["days_in_month"]))
        assert open_days(index, before, last_on) == int(line[column]), line


@pytest.mark.parametrize(("year", "federal", "nebraska"), [
    (2025, 250, 248), (2026, 250, 248), (2027, 249, 247), (2028, 250, 248),
])  # fmt: skip
def test_open_days_of_each_year_are_those_of_the_law(
    year: int, federal: int, nebraska: int
) -> None:
    """5 U.S.C. 6103 and Neb. Rev. Stat. 62-301 (B-33, B-34)."""
    index = an_index(
        a_site(MON_TO_FRI, holidays=kept_in("")), a_site(MON_TO_FRI, holidays=kept_in("NE"))
    )
    span = dt.date(year - 1, 12, 31), dt.date(year, 12, 31)

    assert [open_days(index, *span, calendar) for calendar in (0, 1)] == [federal, nebraska]


def test_a_chart_of_2026_in_nebraska_is_marked_on_117_days_beforehand() -> None:
    """Neb. Rev. Stat. 62-301 (G-01): 104 days of weekends and 13 holidays."""
    site = a_site(MON_TO_FRI, holidays=kept_in("NE"))
    year = [dt.date(2026, 1, 1) + dt.timedelta(n) for n in range(365)]
    causes = [found.cause for on in year if (found := site.why_closed(on)) is not None]

    assert (len(causes), causes.count("weekday") + _holidays_on_weekends(year, site)) == (117, 104)


def _holidays_on_weekends(year: Sequence[dt.date], site: SiteCalendar) -> int:
    """A holiday speaks before the weekday's name (design 4.2)."""
    return sum(on.weekday() > 4 and on in site.holidays for on in year)


@pytest.mark.parametrize("line", rows("us_one_off_closures"), ids=lambda line: line["date"])
def test_days_closed_by_order_are_no_public_holidays(line: dict[str, str]) -> None:
    """The holidays library, public and government categories (C-15)."""
    on = day(line["date"])
    is_public = on in PublicHolidayCalendar().year("US", "", on.year).names

    assert is_public == (line["in_holidays_default_category"] == "yes")


def a_date(on: dt.date) -> QuantLib.Date:
    return QuantLib.Date(on.day, on.month, on.year)


def in_quantlib(site: SiteCalendar, spells: Sequence[Spell]) -> QuantLib.Calendar:
    """The same site as a QuantLib calendar; its weekdays are counted from Sunday, 1."""
    calendar = QuantLib.BespokeCalendar("bespoke")
    for weekday in EVERY_DAY - site.weekly[0][1]:
        calendar.addWeekend((weekday + 1) % 7 + 1)
    for spell in spells:
        for n in range((spell.to_on - spell.from_on).days + 1):
            calendar.addHoliday(a_date(spell.from_on + dt.timedelta(n)))
    return calendar


a_closure = st.builds(
    lambda from_on, length: Spell(from_on, from_on + dt.timedelta(length), "drawn"),
    st.dates(dt.date(2025, 1, 1), dt.date(2026, 12, 31)),
    st.one_of(st.integers(0, 10), st.integers(100, 180)),
)
"""Short ones, and ones beyond what an int8 offset holds; two in a row stay within the search."""


@settings(max_examples=150, deadline=None)
@given(
    weekly=st.frozensets(st.integers(0, 6), min_size=1),
    closures=st.lists(a_closure, max_size=2),
    days=st.lists(st.dates(dt.date(2025, 1, 1), dt.date(2027, 6, 30)), min_size=1, max_size=20),
)
def test_rolls_and_open_days_agree_with_quantlib(
    weekly: frozenset[int], closures: list[Spell], days: list[dt.date]
) -> None:
    site = a_site(weekly, *closures)
    judge, index = in_quantlib(site, closures), an_index(site)
    numbers = np.array([day_of(on) for on in days], dtype=np.int32)
    until = max(days)

    for how, convention in CONVENTIONS.items():
        expected = [judge.adjust(a_date(on), convention).to_date() for on in days]
        assert [date_of(n) for n in index.roll(numbers, how, np.zeros(len(days), int))] == expected
    counted = index.open_days_within(numbers, day_of(until), np.zeros(len(days), int))
    assert counted.tolist() == [
        judge.businessDaysBetween(a_date(on), a_date(until), False, True) if on < until else 0
        for on in days
    ]


# --- which part of a calendar speaks


def test_the_first_that_speaks_says_why_a_day_is_closed() -> None:
    site = SiteCalendar(
        "Alder",
        weekly=((dt.date.min, MON_TO_FRI),),
        holidays={day("2026-07-03"): "Independence Day", day("2026-09-07"): "Labor Day"},
        closures=(closed("2026-07-02", "2026-07-06", "flood repair"),),
        openings=(closed("2026-07-05", "2026-07-05", "inventory day"),),
    )
    seen = {text: site.why_closed(day(text)) for text in (
        "2026-07-01", "2026-07-02", "2026-07-03", "2026-07-05", "2026-07-06", "2026-07-07",
        "2026-07-11", "2026-09-07",
    )}  # fmt: skip

    assert seen == {
        "2026-07-01": None,
        "2026-07-02": Closed("closure", "flood repair"),
        "2026-07-03": Closed("closure", "flood repair"),
        "2026-07-05": None,
        "2026-07-06": Closed("closure", "flood repair"),
        "2026-07-07": None,
        "2026-07-11": Closed("weekday", "Saturday"),
        "2026-09-07": Closed("holiday", "Labor Day"),
    }


def test_a_weekly_pattern_holds_from_its_first_day_on_and_the_first_also_before() -> None:
    site = SiteCalendar(
        "Alder",
        weekly=(
            (day("2026-03-02"), MON_TO_FRI),
            (day("2026-03-04"), frozenset({1})),
            (day("2026-03-15"), frozenset({6})),
        ),
    )
    march = [dt.date(2026, 3, n) for n in range(1, 23)]

    assert [on.day for on in march if site.why_closed(on) is None] == [2, 3, 10, 15, 22]
    assert site.why_closed(day("2026-02-27")) is None


spells = st.lists(
    st.builds(
        lambda from_on, length: Spell(from_on, from_on + dt.timedelta(length), "drawn"),
        st.dates(dt.date(2025, 12, 1), dt.date(2026, 4, 30)),
        st.integers(0, 30),
    ),
    max_size=3,
).map(tuple)


@settings(max_examples=150, deadline=None)
@given(
    patterns=st.lists(
        st.tuples(
            st.dates(dt.date(2025, 12, 1), dt.date(2026, 4, 30)), st.frozensets(st.integers(0, 6))
        ),
        min_size=1,
        max_size=3,
    ),
    holidays=st.lists(st.dates(dt.date(2025, 12, 1), dt.date(2026, 4, 30)), max_size=5),
    closures=spells,
    openings=spells,
)
def test_a_row_of_days_is_open_where_no_day_of_it_has_a_reason(
    patterns: list[tuple[dt.date, frozenset[int]]],
    holidays: list[dt.date],
    closures: tuple[Spell, ...],
    openings: tuple[Spell, ...],
) -> None:
    names = dict.fromkeys(holidays, "holiday")
    weekly = tuple(sorted(dict(patterns).items()))
    site = SiteCalendar("Alder", weekly, names, closures, openings)
    first_on = dt.date(2026, 1, 1)

    is_open = site.open_days(day_of(first_on), 90)

    days = [first_on + dt.timedelta(n) for n in range(90)]
    assert is_open.tolist() == [site.why_closed(on) is None for on in days]


# --- rolling


def test_modified_following_compares_the_year_as_well_as_the_month() -> None:
    index = an_index(a_site(EVERY_DAY, closed("2025-03-15", "2026-03-14")))

    assert rolled(index, day("2025-03-15"), Roll.FOLLOWING) == day("2026-03-15")
    assert rolled(index, day("2025-03-15"), Roll.MODIFIED_FOLLOWING) == day("2025-03-14")


def test_the_preceding_step_of_modified_following_may_leave_the_month() -> None:
    index = an_index(a_site(EVERY_DAY, closed("2026-05-01", "2026-05-31")))

    assert rolled(index, day("2026-05-10"), Roll.MODIFIED_FOLLOWING) == day("2026-04-30")
    assert rolled(index, day("2026-05-10"), Roll.FOLLOWING) == day("2026-06-01")


def test_a_season_of_more_than_127_days_is_rolled_over_whole() -> None:
    index = an_index(a_site(EVERY_DAY, closed("2026-11-01", "2027-03-31", "off season")))

    assert rolled(index, day("2026-11-01"), Roll.FOLLOWING) == day("2027-04-01")
    assert rolled(index, day("2027-03-31"), Roll.PRECEDING) == day("2026-10-31")
    assert index.offsets(Roll.FOLLOWING).dtype == np.int16


def test_the_366th_day_is_still_searched_and_the_next_is_not() -> None:
    near = an_index(a_site(EVERY_DAY, closed("2025-01-01", "2026-01-01")))
    far = an_index(a_site(EVERY_DAY, closed("2025-01-01", "2026-01-02")))

    assert rolled(near, day("2025-01-01"), Roll.FOLLOWING) == day("2026-01-02")
    assert rolled(near, day("2026-01-01"), Roll.PRECEDING) == day("2024-12-31")
    assert not near.has_unreached.any()
    assert far.has_unreached.tolist() == [True]
    for how, on in (
        (Roll.FOLLOWING, "2025-01-01"),
        (Roll.MODIFIED_FOLLOWING, "2025-01-01"),
        (Roll.PRECEDING, "2026-01-02"),
    ):
        with pytest.raises(NoOpenDay) as refused:
            rolled(far, day(on), how)
        assert str(refused.value) == (
            f"site Alder: no open day within 366 days of {on};"
            " check its closures and its weekly pattern"
        )


def test_the_edges_of_the_span_are_searched_as_far_as_its_middle() -> None:
    on = day("2025-06-15")
    for how, spell, found in (
        (Roll.FOLLOWING, closed("2025-06-15", "2026-06-15"), "2026-06-16"),
        (Roll.PRECEDING, closed("2024-06-15", "2025-06-15"), "2024-06-14"),
    ):
        index = an_index(a_site(EVERY_DAY, spell), first_on=on, last_on=on)
        assert rolled(index, on, how) == day(found)


def test_a_day_outside_the_span_is_refused_by_the_sites_name() -> None:
    index = an_index(a_site(site="Alder"), a_site(site="Birch"))
    for on in ("2023-12-31", "2030-01-01"):
        with pytest.raises(OutsideCalendar) as refused:
            rolled(index, day(on), Roll.NONE, 1)
        assert str(refused.value) == (
            f"site Birch: {on} lies outside its calendar of 2024-01-01 to 2029-12-31;"
            " check the unit's dates and the rule's interval"
        )
    assert rolled(index, FIRST_ON, Roll.NONE) == FIRST_ON
    assert rolled(index, LAST_ON, Roll.NONE) == LAST_ON


def test_each_calendar_of_an_index_answers_for_itself() -> None:
    index = an_index(a_site(), a_site({1}), a_site({6}))

    assert [rolled(index, day("2026-03-07"), Roll.FOLLOWING, n) for n in range(3)] == [
        day("2026-03-09"), day("2026-03-10"), day("2026-03-08"),
    ]  # fmt: skip
    counts = [open_days(index, day("2026-03-01"), day("2026-03-31"), n) for n in range(3)]
    assert counts == [22, 5, 4]


def test_no_open_day_is_counted_where_the_end_is_not_after_the_start() -> None:
    index = an_index(a_site(EVERY_DAY))

    assert open_days(index, day("2026-03-02"), day("2026-03-02")) == 0
    assert open_days(index, day("2026-03-09"), day("2026-03-02")) == 0
    assert open_days(index, day("2026-03-01"), day("2026-03-02")) == 1


def test_open_days_of_a_hundred_and_twenty_years_are_counted() -> None:
    index = an_index(a_site(EVERY_DAY), first_on=dt.date(1950, 1, 1), last_on=dt.date(2069, 12, 31))

    assert open_days(index, dt.date(1950, 1, 1), dt.date(2069, 12, 31)) == 43_829


@settings(max_examples=100, deadline=None)
@given(
    weekly=st.frozensets(st.integers(0, 6), min_size=1),
    closures=st.lists(a_closure, max_size=2),
    on=st.dates(dt.date(2025, 1, 1), dt.date(2027, 6, 30)),
    how=st.sampled_from(Roll),
)
def test_the_first_day_that_rolls_beyond_a_day_is_found(
    weekly: frozenset[int], closures: list[Spell], on: dt.date, how: Roll
) -> None:
    index = an_index(a_site(weekly, *closures))

    first_on = date_of(index.first_rolling_beyond(how, day_of(on))[0])

    assert rolled(index, first_on, how) > on
    assert rolled(index, first_on - dt.timedelta(1), how) <= on


@given(closures=st.lists(a_closure, max_size=2), how=st.sampled_from(Roll))
@settings(max_examples=50, deadline=None)
def test_rolling_never_changes_the_order_of_days(closures: list[Spell], how: Roll) -> None:
    index = an_index(a_site({1, 3}, *closures))
    numbers = np.arange(day_of(day("2025-01-01")), day_of(day("2027-12-31")), dtype=np.int32)

    results = index.roll(numbers, how, np.zeros(len(numbers), int)).tolist()

    assert all(before <= after for before, after in pairwise(results))
