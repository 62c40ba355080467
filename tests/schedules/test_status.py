"""Do the rows of a fleet stand in one table, and does a row that fails do so alone?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from schedules.calendars import CalendarIndex, SiteCalendar
from schedules.dates import FAR, NEVER, date_of, day_of
from schedules.marks import MarkedYears
from schedules.rules import DueAfter, Roll, Rule
from schedules.status import Duties, Prepared, StatusColumns, prepare, status
from schedules.units import STATES, UnitColumns, UnitSpan
from tests.outside import day
from tests.schedules.one_unit import (
    EVERY_DAY,
    MON_TO_FRI,
    OneUnit,
    a_cell_rule,
    a_fixed_rule,
    a_rule,
    a_site,
    closed,
    days,
)

ON = day_of(day("2026-03-20"))
START = day_of(day("2025-03-15"))


def a_unit(calendar: int = 0, in_service: int = START) -> UnitSpan:
    return UnitSpan(in_service, FAR, in_service, calendar)


def prepared(
    versions: Sequence[tuple[Rule, ...]],
    units: Sequence[UnitSpan],
    done: Sequence[tuple[int, str]] = (),
) -> Prepared:
    """Every unit has every task; done: duty and day."""
    starts = [place * len(units) for place in range(len(versions) + 1)]
    duties = Duties(versions, starts, np.tile(np.arange(len(units)), len(versions)))
    marks = MarkedYears.pack(
        np.array([duty for duty, _ in done], dtype=np.int64),
        np.array([day_of(day(on)) for _, on in done], dtype=np.int32),
        np.ones(len(done), dtype=np.bool_),
    )
    return prepare(duties, UnitColumns.build(units), marks, ON)


def words(found: StatusColumns) -> list[str]:
    return [STATES[state] if state >= 0 else "no row" for state in found.state.tolist()]


def sites() -> list[SiteCalendar]:
    return [
        a_site(MON_TO_FRI),
        a_site(EVERY_DAY, closed("2026-03-01", "2027-12-31"), site="Birch"),
    ]


def test_a_unit_at_a_site_that_never_opens_fails_alone_by_name() -> None:
    yearly = a_rule("P1Y", roll=Roll.FOLLOWING)
    asked = prepared([(yearly,)], [a_unit(), a_unit(calendar=1), a_unit()])

    found = status(asked, CalendarIndex(sites(), *asked.span()))

    assert {row: str(error) for row, error in found.failures.items()} == {
        1: "site Birch: no open day within 366 days of 2026-03-15;"
        " check its closures and its weekly pattern"
    }
    assert [words(found)[row] for row in (0, 2)] == ["overdue", "overdue"]
    assert [date_of(found.due[row]) for row in (0, 2)] == [day("2026-03-16")] * 2


def test_a_unit_beyond_the_calendars_fails_alone_by_name() -> None:
    yearly, long = a_rule("P1Y"), a_rule("P50Y")
    asked = prepared([(yearly,), (long,)], [a_unit(), a_unit(calendar=1)])
    narrow = CalendarIndex(sites(), day("2024-03-15"), day("2028-03-20"))

    found = status(asked, narrow)

    assert {row: str(error) for row, error in found.failures.items()} == {
        row: f"site {site}: 2075-03-15 lies outside its calendar of 2024-03-15 to 2028-03-20;"
        " check the unit's dates and the rule's interval"
        for row, site in ((2, "Alder"), (3, "Birch"))
    }
    assert words(found)[:2] == ["overdue", "overdue"]


def test_the_span_reaches_a_year_before_and_two_years_after_every_date() -> None:
    """Design 4.2: so far that every date there is can be rolled."""
    asked = prepared([(a_rule("P1Y"),), (a_rule("P50Y"),)], [a_unit(), a_unit(in_service=ON)])

    first_on, last_on = asked.span()

    assert first_on <= day("2024-03-15")
    assert last_on >= day("2078-03-20")
    assert status(asked, CalendarIndex(sites(), first_on, last_on)).failures == {}


def test_a_fixed_rule_with_an_early_anchor_reaches_no_further_than_service() -> None:
    asked = prepared([(a_fixed_rule("1990-03-01"),)], [a_unit()])

    assert asked.reached.tolist() == [day_of(day("2026-03-01"))]


def test_fixed_anchored_and_cell_rules_stand_where_their_duties_do() -> None:
    fixed = a_fixed_rule("2024-04-01", "P1Y", early=30)
    cell = a_cell_rule("month")
    asked = prepared(
        [(fixed,), (cell,), (a_rule("P1Y"),)],
        [a_unit(), a_unit(in_service=ON)],
        done=[(2, "2026-03-03"), (4, "2025-09-01")],
    )

    found = status(asked, CalendarIndex(sites()[:1], *asked.span()))

    assert words(found) == ["overdue", "due", "done", "due", "upcoming", "upcoming"]
    assert found.missed.tolist() == [1, 0, 0, 0, -1, -1]
    assert [None if n == NEVER else date_of(n) for n in found.last_done.tolist()] == [
        None, None, day("2026-03-03"), None, day("2025-09-01"), None,
    ]  # fmt: skip
    assert [n != FAR for n in found.nominal.tolist()] == [True, True, False, False, True, True]


def test_only_the_version_in_force_speaks_and_a_task_without_one_has_no_row() -> None:
    old = a_rule("P1Y", until_on=day("2026-02-28"))
    new = a_rule("P2Y", from_on=day("2026-03-21"))
    unit = OneUnit(rules=[old, new], in_service="2025-03-15")

    assert unit.on("2026-02-28").nominal == day("2026-03-15")
    assert unit.on("2026-03-01") == ("no row", *[None] * 7)
    assert unit.on("2026-03-20").state == "no row"
    assert unit.on("2026-03-21").nominal == day("2027-03-15")


def test_the_last_done_of_an_anchored_rule_is_not_after_the_day() -> None:
    unit = OneUnit(
        rules=[a_rule("P1Y")], in_service="2025-03-15", done=days("2025-06-01", "2026-06-01")
    )

    assert [unit.on(on).nominal for on in ("2025-05-31", "2026-05-31", "2026-06-01")] == list(
        days("2026-03-15", "2026-06-01", "2027-06-01")
    )


def test_the_first_day_of_service_counts_as_within_it() -> None:
    rule = a_rule("P1Y", due_after=frozenset({DueAfter.REPAIRED}))
    unit = OneUnit(rules=[rule], in_service="2025-03-15", outages=(("2025-03-01", "2025-03-15"),))

    assert unit.on("2025-03-15").nominal == day("2025-03-15")
    done = OneUnit(
        rules=[rule],
        in_service="2025-03-15",
        outages=unit.outages,
        done=days("2025-03-15"),
    )
    assert done.on("2025-03-15").nominal == day("2026-03-15")


def test_an_empty_fleet_has_no_rows_and_a_span_around_the_day() -> None:
    nothing = prepare(
        Duties([], [0], np.zeros(0, dtype=np.int64)),
        UnitColumns.build([]),
        MarkedYears.pack(
            np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int32), np.zeros(0, dtype=np.bool_)
        ),
        ON,
    )

    assert nothing.span() == (dt.date(2025, 3, 19), dt.date(2028, 3, 20))
    assert len(status(nothing, CalendarIndex(sites(), *nothing.span())).state) == 0
