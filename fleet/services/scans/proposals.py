"""What of a scanned page can enter the record, and what must a person say first?

A cell with a mark that the record lacks is *proposed* as filled: paper shows ink, no more. What is
uncertain, empty though its days are over, or was asked for when it was printed and is not now, is a
*question*. Nobody is asked of a cell that the record has an entry for. Cells of one row and month
that follow each other and raise the same question are one.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleet.domain.scan_sheets import Answer, ScanCell, ScanSheet
from fleet.domain.scans import Verdict
from fleet.errors import NotFound
from fleet.services.charts.facts import NOT_ASKED, SIGN_OF_CAUSE, RowRole
from fleet.services.charts.frozen import FrozenRow, cells_of
from fleet.services.ports import PublicHolidays, Record
from fleet.services.scans.today import CellToday, PrintToday, key_of

__all__ = ["ANSWERS", "Asked", "Proposals", "Question", "Why", "proposals"]


class Why(StrEnum):
    """Why a person is asked, in the order in which they are."""

    UNCERTAIN = "uncertain"
    """Whether there is a mark."""
    CLOSED = "closed"
    """There is ink, or may be, and nothing is asked for there any more."""
    AHEAD = "ahead"
    """There is ink, or may be, in a cell whose days are still to come."""
    BY_DATE = "by date"
    """There is ink, or may be, in the row of a duty that is due by date."""
    BLANK = "blank"
    """It is empty, and its days are over."""


ANSWERS: Mapping[Why, tuple[Answer, ...]] = {
    Why.UNCERTAIN: (
        Answer.FILLED, Answer.BLANK, Answer.UNUSED, Answer.DONE, Answer.EXPLAINED, Answer.UNKNOWN,
    ),
    Why.CLOSED: (Answer.BLANK, Answer.FILLED, Answer.UNUSED, Answer.DONE, Answer.UNKNOWN),
    Why.AHEAD: (Answer.BLANK, Answer.UNKNOWN),
    Why.BY_DATE: (Answer.DONE, Answer.BLANK, Answer.UNKNOWN),
    Why.BLANK: (
        Answer.BLANK, Answer.FILLED, Answer.UNUSED, Answer.DONE, Answer.EXPLAINED, Answer.UNKNOWN,
    ),
}  # fmt: skip
"""What can be answered; of a duty by date that it was done, for `filled` says nothing of it."""

_WEEK_DAYS, _TO_THURSDAY = 6, dt.timedelta(days=3)
_CROSSED = (*SIGN_OF_CAUSE.values(), NOT_ASKED)


@dataclass(frozen=True, slots=True)
class Asked:
    """One cell that is proposed or asked about, as it was read and as it is today."""

    read: ScanCell
    row: FrozenRow
    today: CellToday


@dataclass(frozen=True, slots=True)
class Question:
    """Cells of one row and month that follow each other, of which the same is asked."""

    why: Why
    cells: Sequence[Asked]

    @property
    def name(self) -> str:
        """A word that no other question of the page has, while it is not answered in part."""
        return f"{self.row}-{self.cells[0].read.slot}"

    @property
    def row(self) -> int:
        """The row on the chart, from 0."""
        return self.cells[0].read.row

    @property
    def slots(self) -> Sequence[int]:
        """The cells in the row, from 0."""
        return [cell.read.slot for cell in self.cells]

    @property
    def answer(self) -> Answer | None:
        """What was said of all of them."""
        return self.cells[0].read.answer

    @property
    def is_open(self) -> bool:
        """Say whether somebody must still answer."""
        return self.answer in (None, Answer.UNKNOWN)

    @property
    def span(self) -> tuple[dt.date, dt.date]:
        """The first and the last day."""
        return self.cells[0].today.from_on, self.cells[-1].today.to_on


@dataclass(frozen=True, slots=True)
class Proposals:
    """What a page comes to, against register and record of today."""

    today: PrintToday
    proposed: Sequence[Asked]
    questions: Sequence[Question]
    marked: int
    """Cells of rules with a mark."""
    recorded: int
    """Cells that the record has an entry for: nothing is to be done."""
    ahead: int
    """Empty cells that can still be filled."""
    left: int
    """Empty cells that nothing is asked for in any more."""
    crossed: int
    """Cells that were crossed out when it was printed, are asked for now, and stay gaps."""
    boxes: Sequence[str]
    """Titles of duties by date with ink, or perhaps, in their box of the head."""

    @property
    def open(self) -> Sequence[Question]:
        """The questions that somebody must still answer."""
        return [question for question in self.questions if question.is_open]


def proposals(
    record: Record, public_holidays: PublicHolidays, sheet: ScanSheet, now: dt.datetime
) -> Proposals:
    """What a page without a problem comes to; nothing is written.

    Raises NotFound for a page whose print is not known, BadPrint for one that cannot be read.
    """
    print_ = record.register().prints.get((sheet.print,))
    if print_ is None:
        raise NotFound("print", sheet.print, "set the page aside")
    cells = record.scans.cells(sheet.number)
    standing = record.stored([key_of(sheet, cell.row, cell.slot) for cell in cells])
    return _Sorter(
        PrintToday(record, public_holidays, print_, now), sheet, cells, set(standing)
    ).sorted()


class _Sorter:
    """Sorts the cells of one page; known: the keys that entries stand under already."""

    def __init__(
        self, today: PrintToday, sheet: ScanSheet, cells: Sequence[ScanCell], known: set[str]
    ) -> None:
        self._today, self._sheet, self._cells, self._known = today, sheet, cells, known
        self._counts = Counter[str]()
        self._proposed: list[Asked] = []
        self._asked: list[tuple[Why, int, Asked]] = []
        """With where each stands among the cells that were read of its row."""
        self._boxes: dict[str, None] = {}

    def sorted(self) -> Proposals:
        """What all of them come to."""
        turns = Counter[int]()
        for read in self._cells:
            turns[read.row] += 1
            if 0 <= read.row < len(self._today.rows):
                self._sort(read, self._today.rows[read.row], turns[read.row])
        return Proposals(
            today=self._today,
            proposed=self._proposed,
            questions=sorted(self._questions(), key=_order),
            marked=self._counts["marked"],
            recorded=self._counts["recorded"],
            ahead=self._counts["ahead"],
            left=self._counts["left"],
            crossed=self._crossed(),
            boxes=list(self._boxes),
        )

    def _sort(self, read: ScanCell, row: FrozenRow, turn: int) -> None:
        has_ink = read.verdict is not Verdict.BLANK
        if row.role is RowRole.DATED and has_ink:
            self._boxes[row.title] = None
        today = self._today.cell(row, read.slot)
        if today is None:
            return
        self._counts["marked"] += read.verdict is Verdict.MARKED
        if today.is_recorded or key_of(self._sheet, read.row, read.slot) in self._known:
            self._counts["recorded"] += 1
            return
        why = _why(read, row, today)
        asked = Asked(read, row, today)
        if why is not None:
            self._asked.append((why, turn, asked))
        elif has_ink:
            self._proposed.append(asked)
        elif row.role is not RowRole.ON_DAY:
            self._counts["left" if today.closed else "ahead"] += 1

    def _questions(self) -> Iterator[Question]:
        group: list[Asked] = []
        last: tuple[Why, int, Asked] | None = None
        for one in self._asked:
            if last is not None and not _is_next(last, one):
                yield Question(last[0], group)
                group = []
            group.append(one[2])
            last = one
        if last is not None:
            yield Question(last[0], group)

    def _crossed(self) -> int:
        """Cells of the page's months that were crossed out and are gaps now."""
        own = {
            (read.row, _month(today))
            for read in self._cells
            if 0 <= read.row < len(self._today.rows)
            and (today := self._today.cell(self._today.rows[read.row], read.slot)) is not None
        }
        found = 0
        for number, signs in enumerate(cells_of(self._today.print)):
            row = self._today.rows[number]
            if row.role not in (RowRole.DAY, RowRole.WEEK, RowRole.BOX):
                continue
            for slot in (n for n, sign in enumerate(signs) if sign in _CROSSED):
                cell = self._today.cell(row, slot)
                found += cell is not None and _is_gap(cell) and (number, _month(cell)) in own
        return found


def _is_gap(cell: CellToday) -> bool:
    return cell.is_over and not cell.is_recorded and not cell.closed


def _is_next(one: tuple[Why, int, Asked], other: tuple[Why, int, Asked]) -> bool:
    """Say whether a cell goes on with the question of the one before it."""
    if one[0] is Why.BY_DATE:  # A duty that is due by date is hardly done on two days running.
        return False
    is_same = one[0] is other[0] and _sameness(one[2]) == _sameness(other[2])
    return is_same and other[1] == one[1] + 1


def _why(read: ScanCell, row: FrozenRow, today: CellToday) -> Why | None:
    """Why a person is asked of a cell without an entry; None where there is no need."""
    if read.verdict is Verdict.BLANK:
        is_gap = today.is_over and not today.closed and row.role is not RowRole.ON_DAY
        return Why.BLANK if is_gap else None
    if today.closed:
        return Why.CLOSED
    if today.is_ahead:
        return Why.AHEAD
    if row.role is RowRole.ON_DAY:
        return Why.BY_DATE
    return Why.UNCERTAIN if read.verdict is Verdict.UNCERTAIN else None


def _sameness(asked: Asked) -> tuple[object, ...]:
    """What cells must have in common to be one question."""
    read, today = asked.read, asked.today
    said = (read.answer, read.words)
    return (read.row, _month(today), read.verdict, read.doubt, today.closed, *said)


def _month(today: CellToday) -> int:
    """The month of the chart in which a cell stands: a week in that of its Thursday."""
    is_week = (today.to_on - today.from_on).days == _WEEK_DAYS
    return (today.from_on + _TO_THURSDAY if is_week else today.to_on).month


def _order(question: Question) -> tuple[int, int, int]:
    return list(Why).index(question.why), question.row, question.slots[0]
