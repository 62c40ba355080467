"""Which marks are doubted, asked of the columns themselves?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pytest

from schedules.audit import (
    AuditMarks,
    Charts,
    Doubt,
    Reason,
    batches,
    conflicts,
    impossible,
    late,
    stood,
)
from schedules.calendars import CalendarIndex, SiteCalendar, Spell
from schedules.dates import FAR, date_of, day_of
from schedules.rules import Each, Interval, Rule
from schedules.units import UnitColumns, UnitSpan

MONDAY = day_of(dt.date(2026, 3, 2))
WEEKDAYS = frozenset(range(5))
ON = MONDAY + 60
DAILY = Rule(kind="k", task="t", title="T", source="s", each=Each.OPEN_DAY)
YEARLY = Rule(kind="k", task="y", title="Y", source="s", every=Interval.parse("P1Y"))


def charts(
    *versions: Sequence[Rule], units: Sequence[UnitSpan] = (), closures: tuple[Spell, ...] = ()
) -> Charts:
    """One site open Monday to Friday and one open on Wednesdays; a unit in service since Monday."""
    always = dt.date.min
    calendars = [
        SiteCalendar("alder", ((always, WEEKDAYS),), closures=closures),
        SiteCalendar("birch", ((always, frozenset({2})),)),
    ]
    first, last = MONDAY - 400, MONDAY + 400
    columns = UnitColumns.build(units or [UnitSpan(MONDAY, FAR, MONDAY, 0)])
    return Charts(
        versions or [(DAILY,)],
        columns,
        np.arange(len(columns)),
        CalendarIndex(calendars, date_of(first), date_of(last)),
        first,
        last,
    )


def marks(*rows: tuple[int, int, int], **columns: Sequence[object]) -> AuditMarks:
    """Marks as (day from Monday, last day, day recorded), done by unit 0 in task 0."""
    count = len(rows)
    days = np.array(rows, dtype=np.int32).reshape(count, 3) + np.int32(MONDAY)
    given = {
        "unit": np.zeros(count, dtype=np.int64),
        "task": np.zeros(count, dtype=np.int64),
        "known_at": np.arange(count, dtype=np.int64) * 3_600_000_000,
        "is_done": np.ones(count, dtype=np.bool_),
        "is_unused": np.zeros(count, dtype=np.bool_),
        "is_explained": np.zeros(count, dtype=np.bool_),
        "is_judged": np.ones(count, dtype=np.bool_),
        **{name: np.array(values) for name, values in columns.items()},
    }
    return AuditMarks(
        from_days=days[:, 0].copy(),
        to_days=days[:, 1].copy(),
        known_days=days[:, 2].copy(),
        **given,
    )


def test_a_unit_stood_where_its_last_move_had_brought_it() -> None:
    moved = UnitSpan(MONDAY, FAR, MONDAY, 0, moves=((MONDAY + 5, 1), (MONDAY + 9, 0)))
    stays = UnitSpan(MONDAY, FAR, MONDAY, 1)
    columns = UnitColumns.build([moved, stays])
    days = np.array([MONDAY - 9, MONDAY + 4, MONDAY + 5, MONDAY + 8, MONDAY + 9, MONDAY + 9])

    found = stood(columns, np.array([0, 0, 0, 0, 0, 1]), days.astype(np.int32))

    assert found.tolist() == [0, 0, 1, 1, 0, 1]


def test_no_marks_are_no_doubts() -> None:
    none = marks()

    for question in (late, batches, conflicts, impossible):
        assert list(question(charts(), none, ON)) == []


def test_a_mark_of_a_site_that_never_opens_again_is_not_late() -> None:
    shut = Spell(date_of(MONDAY + 1), date_of(MONDAY + 380), "closed for good")

    assert list(late(charts(closures=(shut,)), marks((0, 0, 90)), ON)) == []
    assert list(late(charts(), marks((0, 0, 90)), ON)) == [Doubt(Reason.LATE, (0,), MONDAY)]


@pytest.mark.parametrize(
    ("day", "period"),
    [(0, (-1, 29)), (1, (-1, 29)), (29, (-1, 29)), (30, (30, 30)), (31, (31, 31))],
)
def test_a_day_belongs_to_the_period_that_began_under_the_older_version(
    day: int, period: tuple[int, int]
) -> None:
    older = Rule(kind="k", task="t", title="T", source="s", each=Each.MONTH)
    begins_on = date_of(MONDAY + 30)
    newer = Rule(kind="k", task="t", title="T", source="s", each=Each.OPEN_DAY, from_on=begins_on)
    days = np.array([MONDAY + day], dtype=np.int32)

    cells = charts((newer, older)).cells(np.zeros(1, np.int64), np.zeros(1, np.int64), days)

    assert (cells.from_days[0] - MONDAY, cells.to_days[0] - MONDAY) == period
    assert cells.is_expected.tolist() == [True]


def test_a_month_that_turns_weekly_keeps_its_days_until_the_first_whole_week() -> None:
    monthly = Rule(kind="k", task="t", title="T", source="s", each=Each.MONTH)
    weekly = Rule(
        kind="k",
        task="t",
        title="T",
        source="s",
        each=Each.WEEK,
        from_on=date_of(MONDAY + 9),
    )
    days = np.array([MONDAY + 10, MONDAY + 14], dtype=np.int32)
    zeros = np.zeros(2, dtype=np.int64)

    cells = charts((weekly, monthly)).cells(zeros, zeros, days)

    assert (cells.from_days - MONDAY).tolist() == [-1, 14]
    assert (cells.to_days - MONDAY).tolist() == [29, 20]
    assert (cells.opens - MONDAY).tolist() == [0, 14]
    assert (cells.closes - MONDAY).tolist() == [29, 18]


def test_a_task_the_unit_has_not_has_no_cell() -> None:
    cells = charts().cells(
        np.zeros(1, np.int64), np.array([-1]), np.array([MONDAY], dtype=np.int32)
    )

    assert (cells.is_cell.tolist(), cells.is_expected.tolist()) == ([False], [False])


def test_marks_of_two_units_are_no_batch() -> None:
    units = [UnitSpan(MONDAY, FAR, MONDAY, 0)] * 2
    rows = [(day, day, 4) for day in range(5)]
    at_once = [0] * 5

    both = marks(*rows, unit=[0, 0, 0, 1, 1], known_at=at_once)
    one = marks(*rows, known_at=at_once)

    assert list(batches(charts(units=units), both, ON)) == []
    assert list(batches(charts(units=units), one, ON)) == [
        Doubt(Reason.BATCH, (0, 1, 2, 3, 4), MONDAY)
    ]


def test_two_batches_of_one_unit_stay_apart() -> None:
    rows = [(day, day, 12) for day in (0, 1, 2, 3, 4, 7, 8, 9, 10, 11)]
    known_at = [0] * 5 + [60_000_001] * 5

    found = list(batches(charts(), marks(*rows, known_at=known_at), ON))

    assert [doubt.marks for doubt in found] == [(0, 1, 2, 3, 4), (5, 6, 7, 8, 9)]
    assert [doubt.day for doubt in found] == [MONDAY, MONDAY + 7]


def test_a_span_is_cut_at_the_day_asked_for() -> None:
    ahead = marks((0, 11, 1))

    assert list(impossible(charts(), ahead, MONDAY + 1)) == []
    assert list(impossible(charts(), ahead, MONDAY + 2)) == [Doubt(Reason.FUTURE, (0,), MONDAY + 2)]


def test_a_span_ahead_is_doubted_at_its_first_day_ahead_that_is_asked_for() -> None:
    """Recorded on Tuesday for 3 weeks; the sixth day is a Saturday."""
    ahead = marks((0, 20, 1))

    found = {
        since: [doubt.day - MONDAY for doubt in impossible(charts(), ahead, ON, MONDAY + since)]
        for since in (0, 2, 5, 18, 19)
    }

    assert found == {0: [2], 2: [2], 5: [7], 18: [18], 19: []}


def test_what_runs_ahead_is_looked_for_beyond_the_day_asked_for() -> None:
    """A span of three weeks, a day in a year's time, and a span of ten years from then on."""
    ahead = marks((0, 20, 1), (365, 365, 1), (401, 4_000, 1))
    last = MONDAY + 3_000

    def found(since: int, until: int) -> list[tuple[tuple[int, ...], int]]:
        doubts = list(impossible(charts(), ahead, MONDAY, since, until))
        assert {doubt.reason for doubt in doubts} <= {Reason.FUTURE}
        return [(doubt.marks, doubt.day - MONDAY) for doubt in doubts]

    assert found(MONDAY, MONDAY + 1) == []
    assert found(MONDAY, last) == [((0,), 2), ((1,), 365), ((2,), 401)]
    assert found(MONDAY + 5, MONDAY + 364) == [((0,), 7)]
    assert found(MONDAY + 2_000, last) == [((2,), 2_000)]


def test_a_day_to_come_is_neither_before_service_nor_after_retirement_yet() -> None:
    units = [UnitSpan(MONDAY + 30, MONDAY + 40, MONDAY + 30, 0)]
    ahead = marks((20, 20, 1), (45, 45, 1))

    found = {
        on: [
            (d.reason, d.day - MONDAY) for d in impossible(charts(units=units), ahead, MONDAY + on)
        ]
        for on in (19, 44, 45)
    }

    before, retired = (Reason.BEFORE, 20), (Reason.RETIRED, 45)
    assert found == {19: [], 44: [before], 45: [before, retired]}


def test_days_after_the_day_asked_for_are_in_no_doubt() -> None:
    """Also where they lie beyond the charts."""
    at_once = [*range(4), 4, 398, 700]
    rows = marks(*((day, day, 40) for day in at_once), known_at=[0] * 7)
    sundays = marks((6, 6, 6), (397, 397, 397))

    assert list(batches(charts(), rows, MONDAY + 3)) == []
    assert [doubt.marks for doubt in batches(charts(), rows, MONDAY + 4)] == [(0, 1, 2, 3, 4)]
    assert [doubt.marks for doubt in late(charts(), rows, MONDAY + 1)] == [(0,), (1,)]
    assert list(conflicts(charts(), sundays, MONDAY + 5)) == []


def test_a_late_span_and_a_batch_are_doubted_at_their_first_day_asked_for() -> None:
    """A span of two weeks recorded after them; the sixth day is a Saturday."""
    span = marks((0, 13, 40))

    found = {
        since: [
            [doubt.day - MONDAY for doubt in question(charts(), span, ON, MONDAY + since)]
            for question in (late, batches)
        ]
        for since in (0, 5, 11, 12)
    }

    assert found == {0: [[0], [0]], 5: [[7], [7]], 11: [[11], [11]], 12: [[], []]}


def test_a_dated_rule_knows_neither_late_nor_batch_nor_closed_days() -> None:
    dated = charts((YEARLY,))
    rows = marks(*((day, day, 40) for day in range(7)), known_at=[0] * 7)

    for question in (late, batches, conflicts, impossible):
        assert list(question(dated, rows, ON)) == []


def test_overlapping_spans_conflict_on_each_shared_expected_day() -> None:
    spans = marks(
        (0, 4, 4),
        (3, 8, 8),
        is_done=[True, False],
        is_unused=[False, True],
    )

    assert list(conflicts(charts(), spans, ON)) == [
        Doubt(Reason.BOTH, (0, 1), MONDAY + 3),
        Doubt(Reason.BOTH, (0, 1), MONDAY + 4),
    ]
