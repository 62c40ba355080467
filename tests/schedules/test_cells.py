"""Are cells expected, filled and missed as worked out by hand from design 4.5?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from schedules import cells as engine
from schedules.calendars import CalendarIndex, SiteCalendar
from schedules.cells import cell_states, gaps
from schedules.dates import FAR, date_of, day_of
from schedules.marks import MarkedYears
from schedules.rules import Each
from schedules.units import UnitColumns, UnitSpan
from tests.outside import day, rows
from tests.schedules.one_unit import (
    EVERY_DAY,
    MON_TO_FRI,
    Answer,
    OneUnit,
    a_cell_rule,
    a_site,
    closed,
    days,
)

BENCH: Sequence[SiteCalendar] = (a_site(MON_TO_FRI),)
DAILY = OneUnit(rules=[a_cell_rule("open-day")], sites=BENCH, in_service="2026-03-05")
MONTHLY = replace(DAILY, rules=[a_cell_rule("month")])


def seen(found: Answer) -> tuple[str, str, str, int | None]:
    return found.state, str(found.opens), str(found.limit), found.missed


def gaps_of(unit: OneUnit, first: str, last: str, on: str) -> list[tuple[str, ...]]:
    """The gaps that closed from one day to another, as known on a day: period, opens, closes."""
    index = CalendarIndex(unit.sites, day("2018-01-01"), day("2035-12-31"))
    ends = (day_of(day(text)) for text in (first, last, on))
    found = gaps(unit.versions(), unit.columns(), np.zeros(1, int), index, unit.marks(), 0, *ends)
    return [
        tuple(date_of(n).isoformat() for n in numbers)
        for some in found
        for numbers in zip(
            some.from_days.tolist(),
            some.to_days.tolist(),
            some.opens.tolist(),
            some.closes.tolist(),
            strict=True,
        )
    ]


def test_a_daily_mark_is_due_done_then_missed_and_weekends_are_skipped() -> None:
    unit = replace(DAILY, unused=days("2026-03-05"))

    assert seen(unit.on("2026-03-04")) == ("not in service yet", "None", "None", None)
    assert seen(unit.on("2026-03-05")) == ("done", "2026-03-05", "2026-03-05", 0)
    assert seen(unit.on("2026-03-06")) == ("due", "2026-03-06", "2026-03-06", 0)
    assert seen(unit.on("2026-03-07")) == ("overdue", "None", "None", 1)
    assert seen(unit.on("2026-03-10")) == ("overdue", "2026-03-10", "2026-03-10", 2)


def test_today_is_open_and_only_what_is_past_is_missed() -> None:
    """G-04, common practice, no source: an empty past working day is missed, today's is not."""
    assert [gap[3] for gap in gaps_of(DAILY, "2026-03-01", "2026-03-31", "2026-03-10")] == [
        "2026-03-05", "2026-03-06", "2026-03-09",
    ]  # fmt: skip
    assert gaps_of(DAILY, "2026-03-10", "2026-03-31", "2026-03-10") == []


def test_gaps_are_those_that_closed_within_the_span_both_ends_included() -> None:
    unit = replace(MONTHLY, in_service="2026-01-05")
    on = "2026-06-10"
    everything = gaps_of(unit, "2026-01-01", "2026-12-31", on)

    assert everything == [
        ("2026-01-01", "2026-01-31", "2026-01-05", "2026-01-30"),
        ("2026-02-01", "2026-02-28", "2026-02-02", "2026-02-27"),
        ("2026-03-01", "2026-03-31", "2026-03-02", "2026-03-31"),
        ("2026-04-01", "2026-04-30", "2026-04-01", "2026-04-30"),
        ("2026-05-01", "2026-05-31", "2026-05-01", "2026-05-29"),
    ]
    assert gaps_of(unit, "2026-02-27", "2026-04-30", on) == everything[1:4]
    assert gaps_of(unit, "2026-02-28", "2026-04-29", on) == everything[2:3]
    assert gaps_of(unit, "2026-01-01", "2026-12-31", "2026-05-29") == everything[:4]
    assert gaps_of(unit, "2026-01-01", "2026-12-31", "2026-05-30") == everything
    assert gaps_of(unit, "2026-07-01", "2026-06-30", on) == []


def test_a_gap_that_closed_before_its_period_ended_is_found_from_its_closing_day() -> None:
    unit = replace(MONTHLY, outages=(("2026-03-20", "2026-05-04"),))

    assert gaps_of(unit, "2026-03-19", "2026-03-19", "2026-03-20") == [
        ("2026-03-01", "2026-03-31", "2026-03-05", "2026-03-19")
    ]
    assert gaps_of(unit, "2026-03-20", "2026-04-30", "2026-05-05") == []


def test_the_record_of_a_retired_unit_is_still_judged() -> None:
    unit = replace(DAILY, retired="2026-03-10")

    assert unit.on("2026-04-01").state == "retired"
    assert [gap[3] for gap in gaps_of(unit, "2026-03-01", "2026-12-31", "2026-12-31")] == [
        "2026-03-05", "2026-03-06", "2026-03-09",
    ]  # fmt: skip


def test_a_later_mark_does_not_fill_an_earlier_question() -> None:
    unit = replace(MONTHLY, done=days("2026-03-20"))

    assert seen(unit.on("2026-03-19")) == ("due", "2026-03-05", "2026-03-31", 0)
    assert seen(unit.on("2026-03-20")) == ("done", "2026-03-05", "2026-03-31", 0)
    assert seen(unit.on("2026-05-01")) == ("overdue", "2026-05-01", "2026-05-29", 1)


def test_a_mark_on_a_closed_day_fills_its_period() -> None:
    unit = replace(MONTHLY, done=days("2026-03-08"))

    assert unit.on("2026-03-09").state == "done"


def test_a_cell_opens_and_closes_with_its_expected_days() -> None:
    site = a_site(MON_TO_FRI, closed("2026-03-05", "2026-03-08"))
    unit = replace(MONTHLY, sites=(site,), outages=(("2026-03-27", "2026-04-06"),))

    assert seen(unit.on("2026-03-06")) == ("upcoming", "2026-03-09", "2026-03-26", 0)
    assert seen(unit.on("2026-03-09")) == ("due", "2026-03-09", "2026-03-26", 0)
    assert seen(unit.on("2026-03-26")) == ("due", "2026-03-09", "2026-03-26", 0)
    assert seen(unit.on("2026-03-28")) == ("out of service", "None", "None", None)
    assert seen(unit.on("2026-04-06")) == ("overdue", "2026-04-06", "2026-04-30", 1)


def test_a_cell_that_closed_within_its_own_period_is_already_a_gap() -> None:
    site = a_site(MON_TO_FRI, closed("2026-03-16", "2026-03-31"))
    unit = replace(MONTHLY, sites=(site,))

    assert seen(unit.on("2026-03-13")) == ("due", "2026-03-05", "2026-03-13", 0)
    assert seen(unit.on("2026-03-14")) == ("overdue", "2026-03-05", "2026-03-13", 1)
    assert replace(unit, done=days("2026-03-20")).on("2026-03-20").state == "done"


def test_a_period_without_an_expected_day_has_no_cell_and_breaks_no_run() -> None:
    site = a_site(MON_TO_FRI, closed("2026-04-01", "2026-04-30"))
    unit = replace(MONTHLY, sites=(site,), in_service="2026-02-02")

    assert seen(unit.on("2026-04-15")) == ("overdue", "None", "None", 2)
    assert seen(unit.on("2026-06-01")) == ("overdue", "2026-06-01", "2026-06-30", 3)
    filled = replace(unit, done=days("2026-02-10", "2026-03-10"))
    assert seen(filled.on("2026-04-15")) == ("upcoming", "None", "None", 0)


def test_a_mark_in_a_period_without_a_cell_is_not_done() -> None:
    site = a_site(MON_TO_FRI, closed("2026-04-01", "2026-04-30"))
    unit = replace(MONTHLY, sites=(site,), done=days("2026-03-10", "2026-04-10"))

    assert unit.on("2026-04-15").state == "upcoming"


def test_a_filled_cell_ends_the_run_of_gaps() -> None:
    unit = replace(MONTHLY, in_service="2025-11-03", done=days("2026-01-10"))

    assert [unit.on(on).missed for on in ("2026-01-01", "2026-02-01", "2026-04-01")] == [2, 0, 2]


def test_missed_is_0_where_the_cell_of_the_day_is_done() -> None:
    unit = replace(DAILY, done=days("2026-03-10"))

    assert seen(unit.on("2026-03-10")) == ("done", "2026-03-10", "2026-03-10", 0)
    assert unit.on("2026-03-11").missed == 0


def test_days_before_the_record_are_not_expected() -> None:
    unit = replace(MONTHLY, in_service="2025-01-06", record_from="2026-03-10")

    assert seen(unit.on("2026-03-09")) == ("upcoming", "2026-03-10", "2026-03-31", 0)
    assert seen(unit.on("2026-04-01")) == ("overdue", "2026-04-01", "2026-04-30", 1)


def test_times_asks_for_so_many_marks() -> None:
    unit = replace(DAILY, rules=[a_cell_rule("open-day", times=2)])

    assert replace(unit, done=days("2026-03-05")).on("2026-03-05").state == "due"
    assert replace(unit, done=days("2026-03-05", "2026-03-05")).on("2026-03-05").state == "done"
    both = replace(unit, done=days("2026-03-05"), unused=days("2026-03-05"))
    assert both.on("2026-03-05").state == "done"
    monthly = replace(MONTHLY, rules=[a_cell_rule("month", times=2)])
    assert replace(monthly, done=days("2026-03-05", "2026-03-09")).on("2026-03-09").state == "done"
    assert replace(monthly, done=days("2026-03-05", "2026-03-09")).on("2026-03-08").state == "due"


@pytest.mark.parametrize("line", rows("iso_week_dates"), ids=lambda line: line["date"])
def test_a_weekly_cell_is_the_iso_week(line: dict[str, str]) -> None:
    """ISO 8601 (B-23 to B-25)."""
    unit = OneUnit(rules=[a_cell_rule("week")], in_service="2003-01-01", done=[day(line["date"])])

    found = unit.on(line["date"])

    assert found.opens is not None
    assert found.limit is not None
    iso = int(line["iso_year"]), int(line["iso_week"])
    assert (found.state, found.opens.isocalendar(), found.limit.isocalendar()) == (
        "done", (*iso, 1), (*iso, 7),
    )  # fmt: skip


def test_a_chart_of_2026_has_53_weekly_cells() -> None:
    """ISO 8601 (B-24): 1 to 3 January 2027 belong to 2026-W53."""
    unit = OneUnit(rules=[a_cell_rule("week")], in_service="2025-12-29")

    found = gaps_of(unit, "2025-12-29", "2027-01-03", "2027-06-01")

    assert len(found) == 53
    assert found[-1] == ("2026-12-28", "2027-01-03", "2026-12-28", "2027-01-03")


@pytest.mark.parametrize(
    ("each", "opens", "limit"),
    [
        ("quarter", "2026-04-01", "2026-06-30"),
        ("half-year", "2026-01-01", "2026-06-30"),
        ("year", "2026-01-01", "2026-12-31"),
    ],
)
def test_longer_periods_end_with_the_calendar_year(each: str, opens: str, limit: str) -> None:
    unit = OneUnit(rules=[a_cell_rule(each)], in_service="2025-05-01")

    assert seen(unit.on("2026-06-15"))[1:3] == (opens, limit)
    assert seen(unit.on("2026-07-01"))[1] == ("2026-01-01" if each == "year" else "2026-07-01")


def test_a_yearly_cell_shows_its_own_day_however_long_the_period() -> None:
    unit = replace(MONTHLY, rules=[a_cell_rule("year")], in_service="2024-05-06")

    assert seen(unit.on("2026-12-31")) == ("overdue", "2026-01-01", "2026-12-31", 2)
    done = replace(unit, done=days("2026-01-02"))
    assert seen(done.on("2026-12-31")) == ("done", "2026-01-01", "2026-12-31", 0)


def test_a_changed_period_starts_with_its_first_whole_period() -> None:
    old = a_cell_rule("month", until_on=day("2026-03-17"))
    new = a_cell_rule("week", from_on=day("2026-03-18"))
    unit = OneUnit(rules=[old, new], sites=BENCH, in_service="2026-03-02")

    assert seen(unit.on("2026-03-20")) == ("due", "2026-03-02", "2026-03-31", 0)
    assert seen(unit.on("2026-03-23")) == ("due", "2026-03-23", "2026-03-27", 0)
    assert seen(unit.on("2026-04-06")) == ("overdue", "2026-04-06", "2026-04-10", 3)


def test_the_last_day_of_a_version_and_the_first_of_the_next_have_cells() -> None:
    old = a_cell_rule("open-day", until_on=day("2026-03-10"))
    new = a_cell_rule("month", from_on=day("2026-04-01"))
    unit = OneUnit(rules=[old, new], sites=BENCH, in_service="2026-03-09")

    assert [gap[3] for gap in gaps_of(unit, "2026-03-01", "2026-12-31", "2026-05-01")] == [
        "2026-03-09", "2026-03-10", "2026-04-30",
    ]  # fmt: skip


def test_of_two_older_periods_around_a_day_the_one_that_began_last_is_its_own() -> None:
    """A week cut by its version's first day has no cell of its own."""
    rules = [
        a_cell_rule("year", until_on=day("2026-02-28")),
        a_cell_rule("month", from_on=day("2026-03-01"), until_on=day("2026-03-17")),
        a_cell_rule("week", from_on=day("2026-03-18")),
    ]
    unit = OneUnit(rules=rules, sites=BENCH, in_service="2026-01-05")

    assert seen(unit.on("2026-03-20")) == ("due", "2026-03-02", "2026-03-31", 0)
    assert seen(unit.on("2026-03-23")) == ("due", "2026-03-23", "2026-03-27", 0)


def test_a_changed_number_of_times_holds_from_the_next_period_on() -> None:
    old = a_cell_rule("month")
    new = a_cell_rule("month", times=2, from_on=day("2026-03-10"))
    marks = days("2026-03-12", "2026-04-07")
    unit = OneUnit(rules=[old, new], sites=BENCH, in_service="2026-03-02", done=marks)

    assert unit.on("2026-03-12").state == "done"
    assert unit.on("2026-04-07").state == "due"
    assert replace(unit, done=(*marks, day("2026-04-07"))).on("2026-04-07").state == "done"


def test_an_override_of_the_same_period_is_the_cell_of_its_days() -> None:
    for_all = a_cell_rule("week", from_on=day("2026-01-01"))
    for_model = a_cell_rule("week", times=2, models=("A1",))
    unit = OneUnit(
        rules=[for_all, for_model], sites=BENCH, in_service="2026-03-02", done=days("2026-03-03")
    )

    assert unit.on("2026-03-03").state == "due"
    assert len(gaps_of(unit, "2026-03-02", "2026-03-15", "2026-03-20")) == 2


@pytest.mark.parametrize("each", list(Each))
def test_a_run_of_gaps_longer_than_the_look_back_is_counted_whole(each: Each) -> None:
    unit = OneUnit(rules=[a_cell_rule(each.value)], in_service="2015-01-01")

    listed = gaps_of(
        replace(unit, in_service="2020-01-02"), "2020-01-01", "2026-12-30", "2026-12-31"
    )
    later = replace(unit, in_service="2020-01-02").on("2026-12-31")

    assert later.missed == len(listed)
    assert unit.on("2026-12-31").missed == len(listed) + _periods(each)


def _periods(each: Each) -> int:
    """Periods that closed in 2015 to 2019, and of the one of 1 January 2020 that began there."""
    return {
        Each.OPEN_DAY: 1827,
        Each.WEEK: 261,
        Each.MONTH: 60,
        Each.QUARTER: 20,
        Each.HALF_YEAR: 10,
        Each.YEAR: 5,
    }[each]


def test_rows_beyond_one_block_are_answered_as_those_within(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Five units of one task, in service since five days, two of them long before the look-back."""
    on, versions = day_of(day("2026-03-20")), (a_cell_rule("open-day"),)
    starts = [day_of(day(text)) for text in ("2026-01-05", "2024-05-06", "2026-03-20")]
    starts += [day_of(day("2023-01-02")), day_of(day("2026-02-02"))]
    units = UnitColumns.build([UnitSpan(start, FAR, start, 0) for start in starts])
    index = CalendarIndex(BENCH, day("2022-01-01"), day("2028-01-01"))
    marks = MarkedYears.pack(
        np.array([7, 11], dtype=np.int64), np.full(2, on - 3, dtype=np.int32), np.ones(2, bool)
    )
    asked = (versions, units, np.arange(5), index, marks, 7)

    def answers() -> list[list[int]]:
        found = cell_states(*asked, on)
        listed = list(gaps(*asked, on - 10, on, on))
        return [
            *(column.tolist() for column in (found.state, found.opens, found.limit, found.missed)),
            np.concatenate([some.rows for some in listed]).tolist(),
            np.concatenate([some.closes for some in listed]).tolist(),
        ]

    expected = answers()
    monkeypatch.setattr(engine, "_BLOCK", 2)

    assert answers() == expected
    assert expected[3] == [2, 489, 0, 839, 2]


def test_a_unit_open_every_day_has_a_cell_each_day() -> None:
    unit = replace(DAILY, sites=(a_site(EVERY_DAY),))

    assert len(gaps_of(unit, "2026-03-01", "2026-03-31", "2026-04-10")) == 27
