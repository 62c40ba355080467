"""Is every mark that is late, in a batch or in conflict found, and no other?"""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from fleet.domain.records import Mark
from fleet.services.questions import Narrow
from tests.fleet.services.audit_fleet import AFTER, FIRST, AuditFleet, at, march

WED, THU, FRI = march(11), march(12), march(13)
SUNDAY = march(15)


# --- late


@pytest.mark.parametrize(
    ("day", "recorded", "is_late"),
    [
        (WED, at(THU, 23), False),
        (WED, at(FRI, 0, 1), True),
        (FRI, at(march(16), 23), False),
        (FRI, at(march(17), 0, 1), True),
    ],
    ids=["the next day", "two days later", "Friday's on Monday", "Friday's on Tuesday"],
)
def test_a_mark_is_late_after_one_more_open_day(
    day: dt.date, recorded: dt.datetime, is_late: bool
) -> None:
    fleet = AuditFleet.clean(("optics", day))
    fleet.mark("late", day, recorded=recorded)

    assert fleet.told() == ([("late", "optics", day, "late")] if is_late else [])


def test_a_weekly_mark_is_late_from_the_end_of_its_week() -> None:
    fleet = AuditFleet.clean(("rotor", march(9)))
    fleet.mark("late", march(9), number="C-1", task="rotor", recorded=at(march(17)))

    (row,) = fleet.rows()

    assert (row.finding, row.on, row.entries) == ("late", march(9), "late")
    assert (row.period_from, row.period_to) == (march(9), SUNDAY)
    assert (row.opens, row.closes) == (march(9), FRI)
    assert row.settle == (
        "It was recorded on 2026-03-17, after its period closed; ask whether it tells what was"
        " done, and strike it if not: dueward strike late --why '...'"
    )


def test_a_closed_day_does_not_count_as_the_open_day_more() -> None:
    fleet = AuditFleet.clean(("optics", WED), ("optics", THU), ("speed", THU), ("speed", THU))
    fleet.closed(THU, "flood repair")
    fleet.mark("next", WED, recorded=at(FRI))

    assert fleet.told() == []


def test_an_explanation_counts_as_late() -> None:
    fleet = AuditFleet.clean(("optics", WED))
    fleet.mark("why", WED, Mark.EXPLAINED, note="staff at training")

    (row,) = fleet.rows()

    assert (row.finding, row.on, row.entries) == ("late", WED, "why")
    assert row.settle == (
        "An explanation, recorded on 2026-03-11, fills the cell but is never done; read its note"
        " and judge it, and strike it if it does not hold: dueward strike why --why '...'"
    )


def test_a_span_is_late_once_at_its_first_expected_day() -> None:
    fleet = AuditFleet.clean(*(("optics", march(day)) for day in (9, 10, 11)))
    fleet.mark("span", march(8), recorded=at(FRI), to_on=WED)

    assert fleet.told() == [("late", "optics", march(9), "span")]


def test_a_late_span_is_told_in_every_window_it_runs_through() -> None:
    fleet = AuditFleet.clean(*(("optics", march(day)) for day in (9, 10, 11)))
    fleet.mark("span", march(8), recorded=at(march(20)), to_on=WED)

    assert fleet.told(from_on=march(10), to_on=march(20)) == [("late", "optics", march(10), "span")]
    assert fleet.told(from_on=FIRST, to_on=march(8)) == fleet.told(from_on=THU) == []


@pytest.mark.parametrize(
    ("source", "given", "mark", "is_late"),
    [
        ("file", None, Mark.DONE, False),
        ("file", at(march(20)), Mark.DONE, True),
        ("command", None, Mark.FILLED, False),
    ],
    ids=["from paper", "from a file with its instant", "read from a scan"],
)
def test_what_was_read_from_paper_is_not_late(
    source: str, given: dt.datetime | None, mark: Mark, is_late: bool
) -> None:
    fleet = AuditFleet.clean(("optics", WED))
    fleet.mark("one", WED, mark, recorded=at(march(21)), source=source, recorded_at=given)

    assert fleet.told() == ([("late", "optics", WED, "one")] if is_late else [])


# --- batches


def a_batch(seconds_apart: int, days: range = range(9, 14)) -> AuditFleet:
    """Marks of some days made on their last day, one after the other."""
    fleet = AuditFleet.clean(*(("optics", march(day)) for day in days))
    for turn, day in enumerate(days):
        moment = at(FRI, 17) + dt.timedelta(seconds=turn * seconds_apart)
        fleet.mark(f"b{day}", march(day), recorded=moment)
    return fleet


def test_five_days_within_a_minute_are_one_batch_of_the_earliest_day() -> None:
    (row,) = a_batch(15).rows("batch")

    assert (row.on, row.entries) == (march(9), "b9; b10; b11; b12; b13")
    assert (row.period_from, row.period_to, row.opens, row.closes) == (None, None, None, None)
    assert row.settle == (
        "5 entries were recorded at one go on 2026-03-13; ask whether each tells what was done,"
        " and strike those that do not: dueward strike KEY --why '...'"
    )


def test_five_days_in_more_than_a_minute_are_no_batch() -> None:
    assert a_batch(16).rows("batch") == []


def test_four_days_within_a_minute_are_no_batch() -> None:
    assert a_batch(1, range(9, 13)).rows("batch") == []


def test_minutes_that_share_a_mark_are_one_batch() -> None:
    fleet = AuditFleet.clean()
    for turn in range(8):
        moment = at(AFTER) + dt.timedelta(seconds=turn * 15)
        fleet.mark(f"again{turn}", march(2 + 7 * (turn // 5) + turn % 5), recorded=moment)
    (row,) = fleet.rows("batch")
    assert row.entries == "; ".join(f"again{turn}" for turn in range(8))


def test_many_marks_of_one_day_are_no_batch() -> None:
    fleet = AuditFleet.clean()
    for turn in range(6):
        fleet.mark(f"m{turn}", WED, recorded=at(WED, 17, 0, turn))

    assert fleet.told() == []


def test_days_of_one_week_are_one_cell_of_a_weekly_rule_and_no_batch() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("span", march(9), number="C-1", task="rotor", recorded=at(FRI), to_on=FRI)

    assert fleet.told() == []


def test_five_cells_of_four_days_are_no_batch() -> None:
    fleet = AuditFleet.clean()
    for day in (9, 10, 11, 12):
        fleet.mark(f"s{day}", march(day), number="C-1", task="speed", recorded=at(THU, 17))
    fleet.mark("r", THU, number="C-1", task="rotor", recorded=at(THU, 17))

    assert fleet.rows("batch") == []


def test_a_span_of_a_month_recorded_at_once_is_a_batch() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("span", FIRST, recorded=at(march(31), 17), to_on=march(31))

    (row,) = fleet.rows("batch")

    assert (row.on, row.entries) == (FIRST, "span")
    assert row.settle == (
        "1 entry for 22 days was recorded at one go on 2026-03-31; ask whether it tells what was"
        " done, and strike it if not: dueward strike span --why '...'"
    )
    assert fleet.rows("batch", from_on=march(8), to_on=march(9)) == [
        dataclasses.replace(row, on=march(9))
    ]
    assert fleet.rows("batch", from_on=march(7), to_on=march(8)) == []


def test_a_span_counts_only_the_days_up_to_the_day_asked_for() -> None:
    """Ten open days from Monday the second to Friday the thirteenth."""
    fleet = AuditFleet.clean()
    fleet.mark("span", FIRST, recorded=at(FRI, 17), to_on=march(31))

    (row,) = fleet.rows("batch", on=march(14))

    assert row.settle.startswith("1 entry for 10 days was recorded at one go on 2026-03-13; ")


def test_a_batch_is_told_in_every_window_that_has_one_of_its_days() -> None:
    fleet = a_batch(1)

    assert [row.on for row in fleet.rows("batch", from_on=WED, to_on=WED)] == [WED]
    assert fleet.rows("batch", from_on=march(14)) == []


def test_a_batch_has_no_mark_of_a_day_after_the_day_asked_for() -> None:
    """The year of the second is mistyped."""
    fleet = AuditFleet.clean()
    for day in (dt.date(2027, 3, 9), *(march(day) for day in (9, 10, 11, 12, 13))):
        fleet.mark(f"b{day}", day, recorded=at(FRI, 17))

    (row,) = fleet.rows("batch")

    assert row.entries == "; ".join(f"b2026-03-{day:02}" for day in (9, 10, 11, 12, 13))


def test_a_batch_of_two_tasks_names_both() -> None:
    fleet = AuditFleet.clean()
    for day in (9, 10, 11, 12):
        fleet.mark(f"s{day}", march(day), number="C-1", task="speed", recorded=at(FRI, 17))
    fleet.mark("r", FRI, number="C-1", task="rotor", recorded=at(FRI, 17, 0, 30))

    (row,) = fleet.rows("batch")

    assert (row.task, row.entries) == ("speed; rotor", "s9; s10; s11; s12; r")
    assert fleet.rows("batch", narrow=Narrow(tasks=("Rotor",))) == [row]
    assert fleet.rows("batch", narrow=Narrow(tasks=("optics",))) == []


def test_days_read_from_paper_are_no_batch() -> None:
    fleet = AuditFleet.clean()
    for day in range(2, 7):
        fleet.mark(f"p{day}", march(day), recorded=at(AFTER), source="file")

    assert fleet.told() == []


def test_a_batch_counts_only_the_days_up_to_the_day_asked_for() -> None:
    fleet = a_batch(1)

    assert fleet.rows("batch", on=THU) == []
    assert len(fleet.rows("batch", on=FRI)) == 1


# --- conflicts


def test_done_and_unused_of_one_day_are_a_conflict_that_names_both() -> None:
    fleet = AuditFleet.clean(("optics", WED))
    fleet.mark("span", march(9), to_on=FRI, source="file")
    fleet.mark("rest", WED, Mark.UNUSED)

    (row,) = fleet.rows("conflict")

    assert (row.on, row.entries, row.period_from) == (WED, "span; rest", WED)
    assert row.settle == (
        "The day is marked done and unused; strike what is wrong: dueward strike rest --why '...'"
    )


def test_done_and_explained_of_one_day_are_no_conflict() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("why", WED, Mark.EXPLAINED, source="file", note="inventory")

    assert fleet.told() == []


def test_done_and_unused_of_a_dated_rule_are_no_conflict() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("one", WED, task="annual-service")
    fleet.mark("two", WED, Mark.UNUSED, task="annual-service")

    assert fleet.told() == []


def test_a_mark_on_a_closed_day_is_a_conflict_that_says_why_it_was_closed() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("sunday", SUNDAY)

    (row,) = fleet.rows()

    assert (row.finding, row.on, row.entries) == ("conflict", SUNDAY, "sunday")
    assert (row.period_from, row.closes) == (None, None)
    assert row.settle == (
        "The site was closed that day (Sunday); strike the mark, or load the day as an extra"
        " opening: dueward strike sunday --why '...'"
    )


def test_a_span_over_a_closed_day_is_no_conflict() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("span", march(14), recorded=at(AFTER), to_on=march(16), source="file")

    assert fleet.told() == []


def test_a_service_on_a_closed_day_is_no_conflict() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("visit", SUNDAY, task="annual-service")

    assert fleet.told() == []


@pytest.mark.parametrize("task", ["optics", "annual-service"])
def test_a_mark_in_an_outage_is_a_conflict(task: str) -> None:
    fleet = AuditFleet.clean(("optics", WED), ("optics", THU))
    fleet.away(WED, FRI)
    fleet.mark("out", THU, task=task)

    (row,) = fleet.rows()

    assert (row.finding, row.task, row.on, row.entries) == ("conflict", task, THU, "out")
    assert row.settle == (
        "The unit was out of service that day; strike the entry, or load the outage with its right"
        " end (with a wrong first day: its row with 'yes' under withdrawn, and the right row):"
        " dueward strike out --why '...'"
    )


def test_a_mark_before_the_record_is_no_conflict() -> None:
    fleet = AuditFleet.clean(record_from_on=march(16))
    fleet.mark("sunday", march(8))

    assert fleet.told() == []
