"""Does the record take marks and corrections as design 5 and 6 say, on both databases?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

import pytest

from fleet.domain.records import (
    Closure,
    Entry,
    Mark,
    Outage,
    Placement,
    RegisterRecord,
    Site,
    Unit,
)
from fleet.domain.register import Change
from fleet.errors import BadInput, Doubtful, KeyTaken, NotFound
from fleet.services.due import due_rows
from fleet.services.mark import mark, strike
from fleet.services.ports import Record, Stamp
from fleet.services.questions import Question
from fleet.storage import SqlStore
from tests.reference.bridge import NoPublicHolidays

NOON = dt.datetime(2026, 3, 4, 18, tzinfo=dt.UTC)
WEDNESDAY, MONDAY, SUNDAY = dt.date(2026, 3, 4), dt.date(2026, 3, 2), dt.date(2026, 3, 1)
HOLIDAYS = NoPublicHolidays()
BENCH = Stamp(NOON, "command:alder", "command")

SITE = Site(
    site="alder",
    name="Alder Creek",
    county="Cherry",
    region="West",
    country="US",
    subdivision="NE",
    time_zone="America/Chicago",
    open_days="Mon Tue Wed Thu Fri",
)
UNIT = Unit(
    property_number="0012",
    kind="microscope",
    manufacturer="Invented Works",
    model="M-1",
    serial="7",
    site="alder",
    in_service_on=dt.date(2026, 2, 2),
)
REFRIGERATOR = Unit(
    property_number="0013",
    kind="refrigerator",
    manufacturer="Invented Works",
    model="R-1",
    serial="8",
    site="alder",
    in_service_on=dt.date(2026, 2, 2),
)
SHUT = Closure(
    site="alder", from_on=dt.date(2026, 2, 27), to_on=dt.date(2026, 2, 27), reason="water main"
)
BROKEN = Outage(
    property_number="0012",
    from_on=dt.date(2026, 2, 17),
    to_on=dt.date(2026, 2, 19),
    reason="lamp",
)


@pytest.fixture
def record(store: SqlStore) -> Iterator[Record]:
    """An open unit of work on a fleet of one site, a microscope and a refrigerator."""
    register: list[RegisterRecord] = [SITE, UNIT, REFRIGERATOR, SHUT, BROKEN]
    with store.begin(write=True) as opened:
        changes = [Change(old=None, new=new, initial=True) for new in register]
        opened.change(changes, Stamp(NOON, "file:test", "file"))
        yield opened


def optics(
    on: dt.date, word: Mark = Mark.DONE, *, key: str = "", note: str = "", reading: str = ""
) -> Entry:
    return Entry(
        key=key,
        property_number="0012",
        task="optics",
        on=on,
        mark=word,
        initials="QZ",
        note=note,
        reading=reading,
    )


def state(record: Record, task: str = "optics") -> str:
    answer = due_rows(record, HOLIDAYS, Question(now=NOON, on=WEDNESDAY))
    (row,) = [r for r in answer.rows if (r.property_number, r.task) == ("0012", task)]
    return row.state


def test_a_mark_is_on_the_record_at_once_and_changes_the_state(record: Record) -> None:
    assert state(record) == "overdue"

    stored, is_new = mark(record, HOLIDAYS, optics(WEDNESDAY), anyway=False, stamp=BENCH)

    assert is_new
    assert (stored.entry.key, stored.by, stored.stored_at) == (
        "0012/optics/2026-03-04/1",
        "command:alder",
        NOON,
    )
    assert state(record) == "done"


def test_the_same_key_and_content_twice_is_one_entry(record: Record) -> None:
    entry = optics(WEDNESDAY, key="bench-7")
    first, _ = mark(record, HOLIDAYS, entry, anyway=False, stamp=BENCH)

    again, is_new = mark(record, HOLIDAYS, entry, anyway=False, stamp=BENCH)

    assert (again, is_new) == (first, False)


def test_the_same_key_with_other_content_is_refused(record: Record) -> None:
    mark(record, HOLIDAYS, optics(WEDNESDAY, key="bench-7"), anyway=False, stamp=BENCH)

    with pytest.raises(KeyTaken) as refusal:
        mark(
            record, HOLIDAYS, optics(WEDNESDAY, Mark.UNUSED, key="bench-7"),
            anyway=False, stamp=BENCH,
        )  # fmt: skip

    assert str(refusal.value) == (
        "key 'bench-7' already stands for another entry (mark differs);"
        " an entry is never changed: strike it and write a new one"
    )


DOUBTS = [
    (dt.date(2026, 3, 5), "2026-03-05 lies in the future (today is 2026-03-04)"),
    (SUNDAY, "site alder is closed on 2026-03-01 (Sunday)"),
    (dt.date(2026, 2, 27), "site alder is closed on 2026-02-27 (water main)"),
    (dt.date(2026, 2, 18), "unit 0012 was out of service on 2026-02-18"),
    (dt.date(2026, 1, 30), "2026-01-30 lies before unit 0012 entered service on 2026-02-02"),
]


@pytest.mark.parametrize(("on", "doubt"), DOUBTS, ids=[doubt for _, doubt in DOUBTS])
def test_a_doubtful_mark_is_refused_unless_it_is_meant(
    record: Record, on: dt.date, doubt: str
) -> None:
    with pytest.raises(Doubtful) as refusal:
        mark(record, HOLIDAYS, optics(on), anyway=False, stamp=BENCH)
    assert str(refusal.value) == f"{doubt}; say --anyway if it is meant"

    _, is_new = mark(record, HOLIDAYS, optics(on), anyway=True, stamp=BENCH)
    assert is_new


def test_a_second_mark_of_a_full_cell_is_doubtful(record: Record) -> None:
    mark(record, HOLIDAYS, optics(MONDAY), anyway=False, stamp=BENCH)

    with pytest.raises(Doubtful) as refusal:
        mark(record, HOLIDAYS, optics(MONDAY, Mark.UNUSED), anyway=False, stamp=BENCH)

    assert refusal.value.problem == (
        "2026-03-02 is marked done already by QZ (entry 0012/optics/2026-03-02/1)"
    )


def test_an_explanation_needs_its_reason_and_is_never_done(record: Record) -> None:
    with pytest.raises(BadInput) as refusal:
        mark(record, HOLIDAYS, optics(MONDAY, Mark.EXPLAINED), anyway=False, stamp=BENCH)
    assert str(refusal.value) == "mark, note: an explained mark needs its reason; give --note"

    why = optics(MONDAY, Mark.EXPLAINED, note="staff meeting")
    mark(record, HOLIDAYS, why, anyway=False, stamp=BENCH)

    answer = due_rows(record, HOLIDAYS, Question(now=NOON, on=MONDAY))
    (row,) = [r for r in answer.rows if r.task == "optics"]
    assert (row.state, row.last_done) == ("done", None)


def test_a_unit_or_task_that_is_not_there_is_named(record: Record) -> None:
    stranger = Entry(key="", property_number="12", task="optics", on=MONDAY, mark=Mark.DONE)
    with pytest.raises(NotFound, match=r"no unit '12'; property numbers are written as in the"):
        mark(record, HOLIDAYS, stranger, anyway=False, stamp=BENCH)

    wrong_task = Entry(key="", property_number="0012", task="optic", on=MONDAY, mark=Mark.DONE)
    with pytest.raises(NotFound, match=r"no task .optic.; a microscope has: .*optics"):
        mark(record, HOLIDAYS, wrong_task, anyway=False, stamp=BENCH)


@pytest.mark.parametrize("reading", ["warm", "NaN", "4,5", "inf", "1e3", "1_000"])
def test_a_reading_is_a_number(record: Record, reading: str) -> None:
    with pytest.raises(BadInput) as refusal:
        mark(record, HOLIDAYS, optics(MONDAY, reading=reading), anyway=False, stamp=BENCH)
    assert str(refusal.value) == (
        f"mark, reading: '{reading}' is not a number;"
        " write digits with a decimal point, as 4.5 or -20"
    )


def test_texts_are_held_to_the_rules_of_files(record: Record) -> None:
    entry = replace(optics(MONDAY), initials="Q\x1b[1m", note="n" * 2_001)

    with pytest.raises(BadInput) as refusal:
        mark(record, HOLIDAYS, entry, anyway=False, stamp=BENCH)

    assert [str(fault) for fault in refusal.value.faults] == [
        "mark, initials: 'Q\\x1b[1m' holds the control character U+001B;"
        " take it out; write plain text",
        "mark, note: '" + "n" * 59 + "…' has 2,001 characters; shorten it to at most 2,000",
    ]


def test_a_struck_mark_no_longer_counts_and_stays_readable(record: Record) -> None:
    stored, _ = mark(record, HOLIDAYS, optics(WEDNESDAY), anyway=False, stamp=BENCH)

    correction = strike(record, HOLIDAYS, stored.entry.key, "wrong unit", None, stamp=BENCH)

    assert state(record) == "overdue"
    assert record.stored([stored.entry.key]) == {stored.entry.key: stored}
    assert (correction.entry.strikes, correction.entry.why) == (stored.entry.key, "wrong unit")
    assert correction.entry.key == "0012/optics/2026-03-04/2"


def test_a_mark_is_replaced_by_another(record: Record) -> None:
    stored, _ = mark(record, HOLIDAYS, optics(WEDNESDAY), anyway=False, stamp=BENCH)

    strike(record, HOLIDAYS, stored.entry.key, "was not used", Mark.UNUSED, stamp=BENCH)

    answer = due_rows(record, HOLIDAYS, Question(now=NOON, on=WEDNESDAY))
    (row,) = [r for r in answer.rows if r.task == "optics"]
    assert (row.state, row.last_done) == ("done", None)


def test_a_correction_says_who_corrects_and_takes_over_no_signature(record: Record) -> None:
    """Common practice, no source: a correction is dated, signed by who makes it, and says why."""
    stored, _ = mark(record, HOLIDAYS, optics(WEDNESDAY), anyway=False, stamp=BENCH)
    key = stored.entry.key

    bare = strike(record, HOLIDAYS, key, "not used", Mark.UNUSED, stamp=BENCH)
    signed = strike(
        record, HOLIDAYS, bare.entry.key, "was used", Mark.DONE, stamp=BENCH, initials="HS"
    )

    assert (stored.entry.initials, bare.entry.initials, bare.by) == ("QZ", "", "command:alder")
    assert (signed.entry.initials, signed.entry.why) == ("HS", "was used")


@pytest.mark.parametrize(
    ("replace_with", "given", "kept"),
    [(Mark.DONE, "", "4.5"), (Mark.DONE, "5.5", "5.5"), (Mark.UNUSED, "", ""), (None, "", "")],
)
def test_a_correction_keeps_the_reading_of_the_same_mark(
    record: Record, replace_with: Mark | None, given: str, kept: str
) -> None:
    entry = optics(WEDNESDAY, reading="4.5")
    stored, _ = mark(record, HOLIDAYS, entry, anyway=False, stamp=BENCH)

    new = strike(
        record, HOLIDAYS, stored.entry.key, "wrong", replace_with, stamp=BENCH, reading=given
    )

    assert (stored.entry.reading, new.entry.reading) == ("4.5", kept)


def test_a_reading_without_a_mark_is_refused(record: Record) -> None:
    stored, _ = mark(record, HOLIDAYS, optics(WEDNESDAY), anyway=False, stamp=BENCH)

    with pytest.raises(BadInput) as refusal:
        strike(record, HOLIDAYS, stored.entry.key, "wrong", None, stamp=BENCH, reading="4.5")

    assert str(refusal.value) == (
        "strike, reading: a reading belongs to a mark;"
        " say with --replace-with what should stand instead"
    )


def test_a_correction_is_corrected_by_its_own_key(record: Record) -> None:
    stored, _ = mark(record, HOLIDAYS, optics(WEDNESDAY), anyway=False, stamp=BENCH)
    first = strike(record, HOLIDAYS, stored.entry.key, "not used", Mark.UNUSED, stamp=BENCH)

    strike(record, HOLIDAYS, first.entry.key, "another unit", None, stamp=BENCH)

    assert state(record) == "overdue"


def test_a_strike_is_not_struck_but_replaced(record: Record) -> None:
    stored, _ = mark(record, HOLIDAYS, optics(WEDNESDAY), anyway=False, stamp=BENCH)
    first = strike(record, HOLIDAYS, stored.entry.key, "another unit", None, stamp=BENCH)
    with pytest.raises(BadInput) as refusal:
        strike(record, HOLIDAYS, first.entry.key, "it was this unit", None, stamp=BENCH)
    assert str(refusal.value) == (
        f"entry {first.entry.key}: it is a correction that strikes {stored.entry.key} and marks"
        " nothing; if that was wrong, say with --replace-with what should stand"
    )

    strike(record, HOLIDAYS, first.entry.key, "it was this unit", Mark.DONE, stamp=BENCH)

    assert state(record) == "done"


def test_a_correction_is_refused_without_reason_or_twice(record: Record) -> None:
    stored, _ = mark(record, HOLIDAYS, optics(WEDNESDAY), anyway=False, stamp=BENCH)
    key = stored.entry.key
    with pytest.raises(BadInput) as refusal:
        strike(record, HOLIDAYS, key, "  ", None, stamp=BENCH)
    assert str(refusal.value) == "strike, why: no reason is given; say why with --why"

    strike(record, HOLIDAYS, key, "wrong unit", None, stamp=BENCH)
    with pytest.raises(BadInput) as refusal:
        strike(record, HOLIDAYS, key, "again", None, stamp=BENCH)
    assert str(refusal.value) == (
        f"entry {key}: it was struck already, by 0012/optics/2026-03-04/2;"
        " correct 0012/optics/2026-03-04/2, or write a new mark if it was done"
    )

    with pytest.raises(NotFound, match=r"no entry 'nothing'; keys stand in"):
        strike(record, HOLIDAYS, "nothing", "why", None, stamp=BENCH)


def test_a_struck_service_gives_the_due_date_back(record: Record) -> None:
    service = Entry(
        key="", property_number="0012", task="annual-service", on=MONDAY, mark=Mark.DONE
    )
    stored, _ = mark(record, HOLIDAYS, service, anyway=False, stamp=BENCH)
    question = Question(now=NOON, on=WEDNESDAY)

    def due() -> dt.date | None:
        rows = due_rows(record, HOLIDAYS, question).rows
        (row,) = [r for r in rows if (r.property_number, r.task) == ("0012", "annual-service")]
        return row.nominal

    assert due() == dt.date(2027, 3, 2)
    strike(record, HOLIDAYS, stored.entry.key, "was not serviced", None, stamp=BENCH)
    assert due() == dt.date(2027, 2, 2)


def test_the_same_correction_twice_is_one_entry(record: Record) -> None:
    stored, _ = mark(record, HOLIDAYS, optics(WEDNESDAY), anyway=False, stamp=BENCH)
    key = stored.entry.key
    first = strike(record, HOLIDAYS, key, "wrong unit", None, stamp=BENCH, new_key="c-1")

    again = strike(record, HOLIDAYS, key, "wrong unit", None, stamp=BENCH, new_key="c-1")

    assert again == first
    with pytest.raises(KeyTaken, match=r"key 'c-1' already stands for another entry \(why differs"):
        strike(record, HOLIDAYS, key, "wrong day", None, stamp=BENCH, new_key="c-1")


def test_a_day_within_a_span_is_marked_already(record: Record) -> None:
    span = Entry(
        key="",
        property_number="0012",
        task="optics",
        on=dt.date(2026, 2, 23),
        to_on=WEDNESDAY,
        mark=Mark.UNUSED,
        initials="QZ",
    )
    mark(record, HOLIDAYS, span, anyway=True, stamp=BENCH)

    with pytest.raises(Doubtful, match=r"2026-03-02 is marked unused already by QZ"):
        mark(record, HOLIDAYS, optics(MONDAY), anyway=False, stamp=BENCH)


def test_today_is_that_of_the_site_where_the_unit_stands_now(record: Record) -> None:
    far = replace(SITE, site="kiribati", time_zone="Pacific/Kiritimati")
    move = Placement(property_number="0012", site="kiribati", from_on=dt.date(2026, 3, 3))
    changes = [Change(old=None, new=new, initial=True) for new in (far, move)]
    record.change(changes, Stamp(NOON, "file:test", "file"))

    _, is_new = mark(
        record, HOLIDAYS, optics(dt.date(2026, 3, 5)), anyway=False, stamp=BENCH
    )  # 18:00 UTC on the 4th is 08:00 on the 5th there

    assert is_new


def test_a_mark_that_is_no_done_is_doubtful_for_a_dated_task(record: Record) -> None:
    entry = Entry(
        key="", property_number="0012", task="annual-service", on=MONDAY, mark=Mark.UNUSED
    )

    with pytest.raises(Doubtful) as refusal:
        mark(record, HOLIDAYS, entry, anyway=False, stamp=BENCH)

    assert refusal.value.problem == (
        "'annual-service' counts the days it was done, and 'unused' says nothing of them"
    )
