"""Does exactly what a person accepted enter the record, once, and judged as paper is?"""

from __future__ import annotations

import datetime as dt
from collections import Counter

import pytest

from fleet.domain.prints import Print
from fleet.domain.records import Mark
from fleet.domain.scan_sheets import Answer, Scope, SheetState
from fleet.domain.scans import SheetRead
from fleet.errors import BadInput
from fleet.services.due import due_rows
from fleet.services.findings import finding_rows
from fleet.services.mark import strike
from fleet.services.questions import Question as Asking
from fleet.services.scan_ports import PageRead
from fleet.services.scans.accepting import effect
from fleet.services.scans.answering import answer_blanks
from fleet.services.scans.keeping import keep, set_aside, take_up
from fleet.services.scans.proposals import Why
from tests.fleet.services.scans.scan_fleet import (
    LEAD,
    MAY,
    OPTICS,
    SCOPE,
    TIGHTEN,
    ScanFleet,
    a_file,
    read_page,
)


def slot(text: str) -> int:
    return (dt.date.fromisoformat(text) - dt.date(2026, 1, 1)).days


def test_marks_come_in_as_filled_from_paper_with_the_scan_beside_them(
    fleet: ScanFleet, chart: Print
) -> None:
    sheet = fleet.scan(read_page(chart, empty=lambda row, _: row == TIGHTEN), "page.pdf")
    assert fleet.entries() == [], "nothing enters before a person accepts"
    done = fleet.accept(sheet)
    stored = fleet.entries()
    assert done.entries == len(stored) == 74
    assert {one.entry.mark for one in stored} == {Mark.FILLED}
    assert {(one.source, one.by, one.entry.initials) for one in stored} == {("paper", LEAD.by, "")}
    assert f"print {chart.number}, page 1, scan {sheet.file[:16]}" in stored[0].entry.note
    assert (done.sheet.state, done.sheet.settled_by) == (SheetState.SETTLED, LEAD.by)
    with fleet.store.begin() as record:
        (kept,) = record.attachments()
        assert (kept.sha256, kept.name) == (sheet.file, "page.pdf")
        assert record.content(sheet.file) == b"the content of page.pdf"
        assert record.scans.content(sheet.file) is None, "it is kept once"
        assert list(record.flaws(lambda _: None)) == []


def test_nobody_judges_whether_paper_was_in_time_and_a_reason_is_told_as_late(
    fleet: ScanFleet, chart: Print
) -> None:
    explained, unused = slot("2026-02-03"), [slot(f"2026-02-{day}") for day in range(17, 28)]
    gaps = {explained, *unused}
    sheet = fleet.scan(read_page(chart, empty=lambda row, at: row == TIGHTEN or at in gaps))
    for question in fleet.proposals(sheet).questions:
        if question.slots == [explained]:
            fleet.answer(sheet, question, Answer.EXPLAINED, "closed for training")
        else:
            fleet.answer(sheet, question, Answer.UNUSED)
    fleet.accept(sheet)
    with fleet.store.begin() as record:
        asked = Asking(now=MAY + dt.timedelta(days=1))
        span = (dt.date(2026, 1, 1), dt.date(2026, 3, 31))
        rows = finding_rows(record, fleet.program.public_holidays, *span, asked)
    marks = Counter(one.entry.mark for one in fleet.entries())
    assert (marks[Mark.UNUSED], marks[Mark.EXPLAINED]) == (9, 1)
    assert {row.finding for row in rows} == {"late"}
    assert [row.on for row in rows if row.finding == "late"] == [dt.date(2026, 2, 3)]
    (own,) = [one for one in fleet.entries() if one.entry.mark is Mark.EXPLAINED]
    assert (own.source, own.entry.initials) == ("page", "LA")
    assert own.entry.note.startswith("closed for training (print ")


def test_filled_is_never_a_done_date_and_a_done_date_is_what_a_person_says(
    fleet: ScanFleet, chart: Print
) -> None:
    at = slot("2026-01-14")
    sheet = fleet.scan(read_page(chart, empty=lambda row, on: row == TIGHTEN and on != at))
    (question,) = fleet.proposals(sheet).questions
    assert question.why is Why.BY_DATE
    with pytest.raises(BadInput, match="'filled' is no answer here"):
        fleet.answer(sheet, question, Answer.FILLED)
    fleet.accept(sheet)

    def last_done() -> dt.date | None:
        with fleet.store.begin() as record:
            rows = due_rows(record, fleet.program.public_holidays, Asking(now=MAY)).rows
        return next(row.last_done for row in rows if row.task == "tighten")

    assert last_done() is None
    fleet.answer(sheet, question, Answer.DONE)
    fleet.accept(sheet)
    assert last_done() == dt.date(2026, 1, 14)


def test_accepting_twice_or_another_copy_of_the_page_adds_nothing(
    fleet: ScanFleet, chart: Print
) -> None:
    page = read_page(chart, empty=lambda row, _: row == TIGHTEN)
    first, copy = fleet.scan(page), fleet.scan(page)
    with fleet.store.begin() as record:
        assert [one.number for one in record.scans.copies(copy)] == [first.number]
        assert {one.number for one in record.scans.sheets(SCOPE)} == {first.number, copy.number}
    fleet.accept(first)
    before = fleet.entries()
    found = fleet.proposals(copy)
    assert (found.proposed, found.recorded) == ([], 74)
    assert fleet.accept(copy).entries == 0
    assert fleet.entries() == before
    with pytest.raises(BadInput, match="this page is settled"):
        fleet.accept(first)


def test_what_was_corrected_since_is_not_brought_back_by_another_copy(
    fleet: ScanFleet, chart: Print
) -> None:
    page = read_page(chart, empty=lambda row, _: row == TIGHTEN)
    fleet.accept(fleet.scan(page))
    key = f"paper/{chart.number}/{OPTICS}/{slot('2026-02-03')}"
    with fleet.store.begin(write=True) as record:
        holidays = fleet.program.public_holidays
        strike(record, holidays, key, "a speck of dust", None, stamp=fleet.stamp())
        record.commit()
    assert fleet.proposals(fleet.scan(page)).proposed == []


def test_answers_become_the_entries_they_say_and_blank_stays_a_gap(
    fleet: ScanFleet, chart: Print
) -> None:
    days = [slot(f"2026-02-{day:02}") for day in (3, 5, 9, 11, 13)]
    sheet = fleet.scan(read_page(chart, empty=lambda row, at: row == TIGHTEN or at in days))
    said = (Answer.FILLED, Answer.UNUSED, Answer.EXPLAINED, Answer.BLANK, Answer.UNKNOWN)
    questions = [q for q in fleet.proposals(sheet).questions if q.row == OPTICS]
    for question, word in zip(questions, said, strict=True):
        fleet.answer(sheet, question, word, "moved to the other room")
    done = fleet.accept(sheet)
    own = [e.entry for e in fleet.entries() if e.entry.task == "optics"]
    marks = {entry.on.day: entry.mark for entry in own if entry.on.month == 2}
    assert [marks.get(day) for day in (3, 5, 9, 11, 13)] == [
        Mark.FILLED, Mark.UNUSED, Mark.EXPLAINED, None, None,
    ]  # fmt: skip
    assert done.sheet.state is SheetState.WAITING, "of one cell nobody could tell"
    left = fleet.proposals(sheet)
    assert [(q.span[0].day, q.answer) for q in left.questions] == [
        (11, Answer.BLANK), (13, Answer.UNKNOWN),
    ]  # fmt: skip
    fleet.answer(sheet, left.questions[1], Answer.BLANK)
    assert fleet.accept(sheet).sheet.state is SheetState.SETTLED


def test_what_is_accepted_is_what_was_seen(fleet: ScanFleet, chart: Print) -> None:
    sheet = fleet.scan(read_page(chart, empty=lambda row, _: row == TIGHTEN))
    seen = effect(sheet, fleet.proposals(sheet))
    assert (seen.marks, seen.total, seen.open) == ([(Mark.FILLED, 74)], 74, 0)
    fleet.load(entries="property_number,task,on,to,mark,initials\nA-1,optics,2026-02-03,,done,GR\n")
    with pytest.raises(BadInput, match="the record has changed since"):
        fleet.accept(sheet, seen.digest)
    assert len(fleet.entries()) == 1


def test_all_that_look_empty_are_said_to_be_so_at_once(fleet: ScanFleet, chart: Print) -> None:
    sheet = fleet.scan(read_page(chart, empty=lambda _row, at: at < slot("2026-01-14")))
    with fleet.store.begin(write=True) as record:
        assert answer_blanks(record, fleet.program.public_holidays, sheet, LEAD) > 8
        record.commit()
    assert {q.answer for q in fleet.proposals(sheet).questions if q.why is Why.BLANK} == {
        Answer.BLANK
    }


@pytest.mark.parametrize(
    ("words", "told"), [("", "no reason is given"), ("x" * 1_501, "1,501 characters")]
)
def test_an_explanation_needs_its_words(
    fleet: ScanFleet, chart: Print, words: str, told: str
) -> None:
    sheet = fleet.scan(
        read_page(chart, empty=lambda row, at: row == TIGHTEN or at == slot("2026-02-03"))
    )
    question = fleet.proposals(sheet).questions[0]
    with pytest.raises(BadInput, match=told):
        fleet.answer(sheet, question, Answer.EXPLAINED, words)


def test_a_cell_that_is_not_asked_about_takes_no_answer(fleet: ScanFleet, chart: Print) -> None:
    sheet = fleet.scan(
        read_page(chart, empty=lambda row, at: row == TIGHTEN or at == slot("2026-02-03"))
    )
    question = fleet.proposals(sheet).questions[0]
    fleet.load(entries="property_number,task,on,to,mark,initials\nA-1,optics,2026-02-03,,done,GR\n")
    with pytest.raises(BadInput, match="not asked any more"):
        fleet.answer(sheet, question, Answer.BLANK)


def test_a_file_that_was_sent_before_is_told_and_not_read_twice(
    fleet: ScanFleet, chart: Print
) -> None:
    fleet.scan(read_page(chart), "first.pdf")
    sent = a_file("first.pdf")
    with fleet.store.begin(write=True) as record:
        again = keep(record, fleet.program.draw_number, sent, [], LEAD)
        assert (again.is_new, again.file.name, again.sheets) == (False, "first.pdf", ())


@pytest.mark.parametrize(
    ("page", "told"),
    [
        (SheetRead(problem="it is too dark; scan it again"), "too dark"),
        (SheetRead(number="ZZZZZZZZ", page=1), "no chart was ever printed here"),
        (None, "no page of a chart was found"),
    ],
    ids=["dark", "unknown", "empty"],
)
def test_a_page_that_cannot_be_used_says_why_to_whoever_sent_it_alone(
    fleet: ScanFleet, page: SheetRead | None, told: str
) -> None:
    sent = a_file("page.pdf")
    with fleet.store.begin(write=True) as record:
        pages = [] if page is None else [PageRead(1, page)]
        (sheet,) = keep(record, fleet.program.draw_number, sent, pages, LEAD).sheets
        assert told in sheet.problem
        assert record.scans.sheet(sheet.number, SCOPE) == sheet
        assert record.scans.sheet(sheet.number, Scope({"alder"}, "account:another")) is None
        with pytest.raises(BadInput, match="asks nothing"):
            answer_blanks(record, fleet.program.public_holidays, sheet, LEAD)
        set_aside(record, sheet, LEAD)
        assert record.scans.sheets(SCOPE, SheetState.WAITING) == []
        (aside,) = record.scans.sheets(SCOPE, SheetState.ASIDE)
        with pytest.raises(BadInput, match="only a page that waits"):
            set_aside(record, aside, LEAD)
        take_up(record, aside)
        assert record.scans.sheets(SCOPE, SheetState.WAITING) == [sheet]
        with pytest.raises(BadInput, match="only a page that was set aside"):
            take_up(record, sheet)
