"""Is a unit out of use from a failed function check until a pass is on the record?

42 CFR 493.1254(a)(2), (b)(2)(ii): "Function checks must be within the manufacturer's established
limits before patient testing is conducted" (read in a reprint).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleet.domain.records import Entry, Mark, Outage
from fleet.domain.register import Change
from fleet.errors import BadInput, Doubtful
from fleet.services.due import due_rows
from fleet.services.entry_effects import Effects, effects
from fleet.services.mark import fail, mark, strike
from fleet.services.questions import Question
from tests.fakes import FakeRecord
from tests.fleet.services.action_fleet import BENCH, HOLIDAYS, NOON, entry, fill, november

DRIPS = replace(entry("P-1 leak-check", 24), note="it drips")


@pytest.fixture
def record() -> FakeRecord:
    """A record of three units without entries."""
    made = FakeRecord()
    fill(made)
    return made


def put(record: FakeRecord, given: Entry, *, anyway: bool = False) -> Effects:
    before = record.register()
    stored, _ = mark(record, HOLIDAYS, given, anyway=anyway, stamp=BENCH)
    return effects(record, stored.entry, before)


def drip(record: FakeRecord, day: int = 24) -> Effects:
    failed = replace(DRIPS, on=november(day))
    return fail(record, HOLIDAYS, failed, anyway=False, stamp=BENCH)


def outages(record: FakeRecord) -> list[tuple[dt.date, dt.date | None]]:
    return [(one.from_on, one.to_on) for one in record.register().outages.values()]


def state(record: FakeRecord, number: str, day: int) -> set[str]:
    rows = due_rows(record, HOLIDAYS, Question(now=NOON, on=november(day))).rows
    return {row.state for row in rows if row.property_number == number}


def test_a_failed_check_on_a_day_takes_the_unit_out_of_use_from_it_until_a_pass(
    record: FakeRecord,
) -> None:
    """42 CFR 493.1254(b)(2)(ii): from the day of the failure, until a pass is recorded."""
    drip(record)
    assert state(record, "P-1", 24) == state(record, "P-1", 25) == {"out of service"}

    put(record, entry("P-1 leak-check", 25))
    assert state(record, "P-1", 24) == {"out of service"}
    assert "out of service" not in state(record, "P-1", 25)


def test_a_failed_check_writes_an_action_and_an_outage_and_no_entry(record: FakeRecord) -> None:
    found = drip(record)

    assert record.written == {}
    assert found.action is not None
    assert (found.action.number, found.action.task, found.action.problem, found.action.entry) == (
        "P-1/2026-11-24/1",
        "leak-check",
        "Check for leaks: it drips (found by QZ)",
        "",
    )
    assert found.began == Outage(
        property_number="P-1",
        from_on=november(24),
        to_on=None,
        reason="leak-check failed: Check for leaks: it drips (found by QZ)"
        " (action P-1/2026-11-24/1)",
    )


def test_the_same_failure_said_twice_is_one(record: FakeRecord) -> None:
    first = drip(record)
    lines = len(record.changes)

    assert drip(record) == first
    assert len(record.changes) == lines


def test_a_reading_out_of_range_is_written_and_takes_the_unit_out_from_the_day_after(
    record: FakeRecord,
) -> None:
    """The mark itself fills a cell of that day; a cell mark in an outage would be a conflict."""
    found = put(record, entry("B-1 check-weight", 24, "100.2"))

    assert (found.action and found.action.number, found.cautions) == (
        "B-1/2026-11-24/1",
        ("Forceps only.",),
    )
    assert found.began == Outage(
        property_number="B-1",
        from_on=november(25),
        to_on=None,
        reason="check-weight failed: Weigh the check weight: read 100.2 g, allowed 99.9 to 100.1 g"
        " (entry B-1/check-weight/2026-11-24/1)",
    )


def test_another_cell_of_the_day_moves_the_outage_to_the_day_after(record: FakeRecord) -> None:
    put(record, entry("P-1 cleaning", 24))
    drip(record)

    assert outages(record) == [(november(25), None)]


@pytest.mark.parametrize(
    ("task", "reading", "mark_as", "is_back", "why"),
    [
        ("B-1 check-weight", "100.0", Mark.DONE, True, "in range"),
        ("B-1 check-weight", "100.1", Mark.DONE, True, "the end is inside"),
        ("B-1 check-weight", "100.3", Mark.DONE, False, "out of range again"),
        ("B-1 check-weight", "", Mark.DONE, False, "no number, so nobody knows"),
        ("B-1 check-weight", "", Mark.UNUSED, False, "not in use is no pass"),
    ],
    ids=lambda value: value if isinstance(value, str) and " " in value else "",
)
def test_only_a_done_mark_within_limits_is_a_pass(
    record: FakeRecord, task: str, reading: str, mark_as: Mark, is_back: bool, why: str
) -> None:
    put(record, entry(task, 23, "100.2"))

    found = put(record, entry(task, 25, reading, mark=mark_as), anyway=True)

    assert outages(record) == [(november(24), november(25) if is_back else None)]
    assert (found.ended is not None) is is_back


def test_a_pass_is_not_doubtful_for_coming_in_its_outage(record: FakeRecord) -> None:
    drip(record, 23)

    ended = put(record, entry("P-1 leak-check", 25)).ended

    assert ended is not None
    assert (ended.from_on, ended.to_on) == (november(23), november(25))


@pytest.mark.parametrize(
    ("reading", "doubt"),
    [
        ("", "'check-weight' failed on 2026-11-23, and only a reading within limits passes it"
         " (--reading)"),
        ("100.2", "'check-weight' failed on 2026-11-23 and read 100.2 g, allowed 99.9 to 100.1 g"
         " does not pass it; say so with --failed --note if it failed again"),
    ],
)  # fmt: skip
def test_a_done_mark_that_is_no_pass_is_doubtful_and_says_why(
    record: FakeRecord, reading: str, doubt: str
) -> None:
    put(record, entry("B-1 check-weight", 23, "100.5"))

    with pytest.raises(Doubtful) as refusal:
        put(record, entry("B-1 check-weight", 25, reading))

    assert refusal.value.problem == doubt


def test_a_pass_on_the_day_of_the_failure_leaves_no_outage(record: FakeRecord) -> None:
    put(record, entry("B-1 check-weight", 25, "100.2"))

    ended = put(record, entry("B-1 check-weight", 25, "100.0")).ended

    assert outages(record) == []
    assert ended is not None
    assert ended.to_on == november(25)
    assert len(record.register().actions) == 1


def test_a_pass_on_what_would_be_the_first_day_out_leaves_no_outage(record: FakeRecord) -> None:
    put(record, entry("B-1 check-weight", 24, "100.2"))

    ended = put(record, entry("B-1 check-weight", 25, "100.0")).ended

    assert (outages(record), ended and ended.to_on) == ([], november(25))


def test_a_pass_of_the_day_before_brings_nothing_back(record: FakeRecord) -> None:
    drip(record)
    put(record, entry("P-1 leak-check", 23))

    assert outages(record) == [(november(24), None)]


def test_another_task_or_another_cause_is_not_ended(record: FakeRecord) -> None:
    broken = Outage(
        property_number="P-1", from_on=november(24), to_on=None, reason="leak-check failed: dropped"
    )
    record.change([Change(old=None, new=broken, initial=False)], BENCH)

    put(record, entry("P-1 leak-check", 25), anyway=True)

    assert outages(record) == [(november(24), None)]


def test_a_failure_entered_late_ends_with_the_pass_that_is_there(record: FakeRecord) -> None:
    put(record, entry("P-1 leak-check", 20))
    drip(record, 18)

    assert outages(record) == [(november(18), november(20))]


def test_a_failure_entered_late_ends_where_another_outage_begins(record: FakeRecord) -> None:
    broken = Outage(
        property_number="P-1", from_on=november(20), to_on=november(23), reason="dropped"
    )
    record.change([Change(old=None, new=broken, initial=False)], BENCH)

    drip(record, 18)
    drip(record, 21)

    assert sorted(outages(record)) == [
        (november(18), november(20)),
        (november(20), november(23)),
    ]


def test_a_struck_pass_no_longer_ends_the_outage(record: FakeRecord) -> None:
    drip(record, 23)
    put(record, entry("P-1 leak-check", 24, key="pass"))

    strike(record, HOLIDAYS, "pass", "another pipette", None, stamp=BENCH)

    assert outages(record) == [(november(23), None)]


def test_a_corrected_reading_that_is_a_pass_ends_the_outage(record: FakeRecord) -> None:
    put(record, entry("B-1 check-weight", 24, "100.9", key="slip"))

    strike(record, HOLIDAYS, "slip", "100.0 was meant", Mark.DONE, reading="100.0", stamp=BENCH)

    assert outages(record) == []


def test_a_storage_temperature_does_not_stop_the_use(record: FakeRecord) -> None:
    found = put(record, entry("R-1 temperature", 24, "10.4"))

    assert (found.action is None, found.began, outages(record)) == (False, None, [])


def test_a_failure_of_a_task_that_stops_nothing_is_an_action_only(record: FakeRecord) -> None:
    failed = replace(entry("P-1 cleaning", 24), note="cracked")

    found = fail(record, HOLIDAYS, failed, anyway=False, stamp=BENCH)

    assert (found.action is None, found.began, outages(record)) == (False, None, [])


def test_a_failure_needs_its_finding_and_a_day_that_was(record: FakeRecord) -> None:
    with pytest.raises(BadInput) as bare:
        fail(record, HOLIDAYS, replace(DRIPS, note=" "), anyway=False, stamp=BENCH)
    assert str(bare.value) == (
        "mark, note: a failed check needs its finding; say with --note what was found"
    )

    with pytest.raises(Doubtful) as ahead:
        drip(record, 26)
    assert ahead.value.problem == "2026-11-26 lies in the future (today is 2026-11-25)"
    assert record.register().actions == {}
