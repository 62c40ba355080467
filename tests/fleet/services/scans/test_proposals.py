"""Is a person asked of exactly what a program cannot know, and of nothing that is settled?"""

from __future__ import annotations

import datetime as dt

import pytest

from fleet.domain.prints import Print
from fleet.domain.scan_sheets import Answer
from fleet.domain.scans import CellRead, Doubt, SheetRead, Verdict
from fleet.services.scans.proposals import Why
from tests.fleet.services.scans.scan_fleet import (
    OPTICS,
    STAND,
    TIGHTEN,
    ScanFleet,
    printed,
    read_page,
)


def slot(text: str) -> int:
    """The slot of a day of 2026."""
    return (dt.date.fromisoformat(text) - dt.date(2026, 1, 1)).days


def not_tightened(row: int, _slot: int) -> bool:
    return row == TIGHTEN


def only(*cells: tuple[int, int, Verdict]) -> tuple[CellRead, ...]:
    """A page of which no more was open than these cells."""
    doubt = {Verdict.UNCERTAIN: Doubt.FAINT}
    return tuple(CellRead(row, at, verdict, 0.9, doubt.get(verdict)) for row, at, verdict in cells)


def read(chart: Print, *cells: tuple[int, int, Verdict]) -> SheetRead:
    return SheetRead(number=chart.number, page=1, cells=only(*cells))


def test_each_mark_that_the_record_lacks_is_proposed_on_its_day(
    fleet: ScanFleet, chart: Print
) -> None:
    found = fleet.proposals(fleet.scan(read_page(chart, empty=not_tightened)))
    days = [cell.today.on for cell in found.proposed if cell.read.row == OPTICS]
    assert (days[0], days[-1], len(days)) == (dt.date(2026, 1, 2), dt.date(2026, 3, 31), 61)
    weeks = [cell.today for cell in found.proposed if cell.read.row == STAND]
    assert weeks[0].from_on == dt.date(2025, 12, 29)
    assert [week.on for week in weeks[:2]] == [dt.date(2026, 1, 2), dt.date(2026, 1, 9)]
    assert not found.questions
    assert (found.recorded, found.ahead, found.left, found.crossed) == (0, 0, 0, 0)


def test_days_without_a_mark_that_follow_each_other_are_one_question(
    fleet: ScanFleet, chart: Print
) -> None:
    empty = {slot(f"2026-01-{day:02}") for day in (8, 9, 12, 14, 29, 30)} | {slot("2026-02-02")}
    page = read_page(chart, empty=lambda row, at: row != OPTICS or at in empty)
    questions = [q for q in fleet.proposals(fleet.scan(page)).questions if q.row == OPTICS]
    assert [(q.why, q.span) for q in questions] == [
        (Why.BLANK, (dt.date(2026, 1, 8), dt.date(2026, 1, 12))),
        (Why.BLANK, (dt.date(2026, 1, 14), dt.date(2026, 1, 14))),
        (Why.BLANK, (dt.date(2026, 1, 29), dt.date(2026, 1, 30))),
        (Why.BLANK, (dt.date(2026, 2, 2), dt.date(2026, 2, 2))),
    ], "a weekend does not part them, the end of a month does"


def test_an_empty_cell_that_can_still_be_filled_is_not_asked_about(
    fleet: ScanFleet, chart: Print
) -> None:
    page = read_page(chart, page=2, empty=lambda _row, _slot: True)
    found = fleet.proposals(fleet.scan(page))
    last = max(q.span[1] for q in found.questions if q.row == OPTICS)
    assert last == dt.date(2026, 5, 1), "the Friday before this Monday"
    assert max(q.span[1] for q in found.questions if q.row == STAND) == dt.date(2026, 5, 3)
    assert found.ahead > 40


def test_ink_in_a_cell_that_has_not_come_is_asked_about_and_cannot_be_taken(
    fleet: ScanFleet, chart: Print
) -> None:
    page = read(chart, (OPTICS, slot("2026-06-30"), Verdict.MARKED))
    (question,) = fleet.proposals(fleet.scan(page)).questions
    assert question.why is Why.AHEAD


def test_a_week_that_is_under_way_is_marked_on_a_day_of_it_that_has_come(
    fleet: ScanFleet, chart: Print
) -> None:
    found = fleet.proposals(fleet.scan(read(chart, (STAND, 18, Verdict.MARKED))))
    assert [cell.today.on for cell in found.proposed] == [dt.date(2026, 5, 4)]


def test_what_the_record_has_already_is_counted_and_not_asked_about(
    fleet: ScanFleet, chart: Print
) -> None:
    fleet.load(
        entries="property_number,task,on,to,mark,initials\n"
        "A-1,optics,2026-01-05,2026-03-31,done,GR\nA-1,stand,2026-01-07,,unused,GR\n"
    )
    page = read_page(chart, empty=lambda row, at: row != OPTICS or at < slot("2026-01-09"))
    found = fleet.proposals(fleet.scan(page))
    assert found.recorded == 60 + 1
    assert [q.span for q in found.questions if q.row == OPTICS] == [
        (dt.date(2026, 1, 2), dt.date(2026, 1, 2))
    ]


def test_what_was_asked_for_when_it_was_printed_and_is_not_now_is_asked_with_the_reason(
    fleet: ScanFleet, chart: Print
) -> None:
    fleet.load(
        closures="site,from,to,reason\nalder,2026-02-09,2026-02-11,Ice storm\n",
    )
    cells = [(OPTICS, slot(f"2026-02-{day:02}")) for day in (9, 10, 11)]
    verdicts = (Verdict.MARKED, Verdict.UNCERTAIN, Verdict.BLANK)
    page = read(chart, *((*cell, said) for cell, said in zip(cells, verdicts, strict=True)))
    found = fleet.proposals(fleet.scan(page))
    assert [(q.why, q.slots, q.cells[0].today.closed) for q in found.questions] == [
        (Why.CLOSED, [cells[0][1]], "closure: Ice storm"),
        (Why.CLOSED, [cells[1][1]], "closure: Ice storm"),
    ], "where no ink is, nothing is owed and nobody asked"
    assert found.left == 1


def test_what_was_crossed_out_and_is_asked_for_now_is_told(fleet: ScanFleet) -> None:
    fleet.load(closures="site,from,to,reason\nalder,2026-02-09,2026-02-11,Painters\n")
    chart = printed(fleet.program, dt.datetime(2026, 1, 5, 15, tzinfo=dt.UTC))
    fleet.load(
        closures="site,from,to,reason,open\nalder,2026-02-10,2026-02-10,Painters came later,yes\n"
    )
    assert fleet.proposals(fleet.scan(read_page(chart))).crossed == 1
    assert fleet.proposals(fleet.scan(read_page(chart, page=2))).crossed == 0


def test_ink_in_the_row_of_a_duty_by_date_is_never_taken_unasked(
    fleet: ScanFleet, chart: Print
) -> None:
    at = slot("2026-01-14")
    page = read(chart, (TIGHTEN, at, Verdict.MARKED), (TIGHTEN, at + 1, Verdict.BLANK))
    found = fleet.proposals(fleet.scan(page))
    assert [(q.why, q.slots) for q in found.questions] == [(Why.BY_DATE, [at])]
    assert not found.proposed


def test_initials_are_of_no_rule_and_a_box_of_the_head_is_told(
    fleet: ScanFleet, chart: Print
) -> None:
    page = read(chart, (3, 20, Verdict.MARKED), (4, 0, Verdict.UNCERTAIN))
    found = fleet.proposals(fleet.scan(page))
    assert (found.proposed, found.questions) == ([], [])
    assert found.boxes == ["Service by the vendor"]


@pytest.mark.parametrize("said", [Answer.BLANK, Answer.UNKNOWN])
def test_doubtful_cells_come_first_and_only_what_was_answered_is_closed(
    fleet: ScanFleet, chart: Print, said: Answer
) -> None:
    page = read(
        chart,
        (OPTICS, slot("2026-01-08"), Verdict.BLANK),
        (OPTICS, slot("2026-01-09"), Verdict.UNCERTAIN),
        (OPTICS, slot("2026-01-12"), Verdict.UNCERTAIN),
    )
    sheet = fleet.scan(page)
    doubtful, blank = fleet.proposals(sheet).questions
    assert (doubtful.why, blank.why) == (Why.UNCERTAIN, Why.BLANK)
    fleet.answer(sheet, doubtful, said, most=1)
    found = fleet.proposals(sheet)
    assert [len(q.slots) for q in found.questions] == [1, 1, 1], "half of it was answered"
    assert len(found.open) == (2 if said is Answer.BLANK else 3)
