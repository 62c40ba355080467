"""How does a person answer what is asked of a scanned page?"""

from __future__ import annotations

from collections.abc import Collection

from fleet.domain.scan_sheets import Answer, ScanSheet, SheetState
from fleet.domain.texts import check_prose
from fleet.errors import BadInput, Fault
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.scans.proposals import ANSWERS, Question, Why, proposals

__all__ = ["MOST_WORDS", "answer", "answer_blanks"]

MOST_WORDS = 1_500
"""Characters of an explanation; where it was read is put behind it."""


def answer(
    record: Record,
    public_holidays: PublicHolidays,
    sheet: ScanSheet,
    cells: Collection[tuple[int, int]],
    said: Answer,
    words: str,
    stamp: Stamp,
) -> None:
    """Keep what somebody says of some cells, each by row and slot; the caller commits.

    It can be said anew until it is accepted. BadInput where the page does not wait, one of the
    cells is not asked about (any more), that is no answer there, or a reason is missing.
    """
    _check_waits(sheet)
    found = proposals(record, public_holidays, sheet, stamp.at)
    asked = {(q.row, slot): q for q in found.questions for slot in q.slots}
    if not cells or any(cell not in asked for cell in cells):
        mend = "load the page again"
        raise _refused("cells", "this is not asked any more: the record has changed since", mend)
    for question in {id(q): q for q in map(asked.__getitem__, cells)}.values():
        _check_answer(question, said)
    _check_words(said, words)
    record.scans.put_answer(
        sheet.number, cells, said, words.strip() if said is Answer.EXPLAINED else "",
        stamp.by, stamp.at,
    )  # fmt: skip


def answer_blanks(
    record: Record, public_holidays: PublicHolidays, sheet: ScanSheet, stamp: Stamp
) -> int:
    """Say of all that look empty and are not answered that they are; how many cells.

    The caller commits. BadInput where the page does not wait.
    """
    _check_waits(sheet)
    found = proposals(record, public_holidays, sheet, stamp.at)
    blank = [q for q in found.questions if q.why is Why.BLANK and q.answer is None]
    cells = [(q.row, slot) for q in blank for slot in q.slots]
    record.scans.put_answer(sheet.number, cells, Answer.BLANK, "", stamp.by, stamp.at)
    return len(cells)


def _check_waits(sheet: ScanSheet) -> None:
    if sheet.state is not SheetState.WAITING or sheet.problem:
        raise _refused("cells", f"this page is {sheet.state}, and asks nothing", "load it again")


def _check_answer(question: Question, said: Answer) -> None:
    if said not in ANSWERS[question.why]:
        known = ", ".join(ANSWERS[question.why])
        raise _refused("answer", f"'{said}' is no answer here", f"say one of {known}")


def _check_words(said: Answer, words: str) -> None:
    if said is not Answer.EXPLAINED:
        return
    if not words.strip():
        mend = "say what happened, as: closed for training; not used, forgotten"
        raise _refused("words", "no reason is given", mend)
    if wrong := check_prose(words, MOST_WORDS):
        raise _refused("words", wrong.problem, wrong.mend)


def _refused(field: str, problem: str, mend: str) -> BadInput:
    return BadInput([Fault("scan", None, field, problem, mend)])
