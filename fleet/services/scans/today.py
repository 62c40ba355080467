"""What do register and record of today say of the cells of a print?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

from fleet.domain.prints import Print
from fleet.domain.records import Mark, Unit
from fleet.domain.scan_sheets import ScanSheet
from fleet.services.charts.cells import ChartCell, live_entries, unit_charts
from fleet.services.charts.days import Reason
from fleet.services.charts.facts import RowRole
from fleet.services.charts.frozen import FrozenRow, rows_of
from fleet.services.charts.periods import MONTHS_OF_EACH, first_monday, spans_of_year
from fleet.services.due import sheets
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Question
from schedules.rules import Each

__all__ = ["CellToday", "PrintToday", "key_of"]

_ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class CellToday:
    """One cell of a print, as it is now; from_on and to_on: its days, both included.

    on: the day that an entry for it speaks of, the last on which it is asked for, or today's
    latest before. is_recorded: the record has its mark. closed: why nothing is asked for, in words;
    '' where a mark is. is_over: its last day has passed. is_ahead: its first has not come.
    """

    from_on: dt.date
    to_on: dt.date
    on: dt.date
    is_recorded: bool
    closed: str
    is_over: bool
    is_ahead: bool


def key_of(sheet: ScanSheet, row: int, slot: int) -> str:
    """The key of the entry of a cell: however often it is scanned, there is one."""
    return f"paper/{sheet.print}/{row}/{slot}"


class PrintToday:
    """The cells of one print, and its rows; as they are on today at the print's site."""

    def __init__(
        self, record: Record, public_holidays: PublicHolidays, print_: Print, now: dt.datetime
    ) -> None:
        register = record.register()
        self.unit: Unit = register.units[(print_.property_number,)]
        self.print, self.rows = print_, rows_of(print_)
        (sheet,) = sheets(record, public_holidays, Question(now=now), [self.unit])
        self.today = sheet.on
        ids = record.unit_ids()
        entries = list(record.entries([ids[self.unit.property_number]]))
        self._lines = live_entries(entries, None)
        first_on, last_on = dt.date(print_.year, 1, 1), dt.date(print_.year, 12, 31)
        (self._charts,) = unit_charts(
            sheet, register.outages.values(), entries, first_on, last_on, print_.site
        )

    def cell(self, row: FrozenRow, slot: int) -> CellToday | None:
        """A cell; None for one of no rule (initials), of the head, or that a row has not."""
        if row.role in (RowRole.DATED, RowRole.INITIALS):
            return None
        spans = _spans(row.each, self.print.year)
        if not 0 <= slot < len(spans):
            return None
        if row.role is RowRole.ON_DAY:
            return self._on_day(row, spans[slot][0], slot)
        return self._of_cell_rule(row, slot, *spans[slot])

    def _on_day(self, row: FrozenRow, on: dt.date, slot: int) -> CellToday:
        is_done = (row.task, on) in self._done
        closed = _words(self._charts.reasons[slot])
        return CellToday(on, on, on, is_done, closed, on < self.today, on > self.today)

    def _of_cell_rule(
        self, row: FrozenRow, slot: int, from_on: dt.date, to_on: dt.date
    ) -> CellToday:
        cell = self._cells.get((row.task, row.each, slot))
        if cell is None or row.turn > cell.rule.times:
            closed = "the rule book does not ask for it any more"
            on = min(to_on, max(from_on, self.today))
            return CellToday(from_on, to_on, on, False, closed, to_on < self.today, False)
        is_recorded = len(cell.marks) >= row.turn
        if cell.opens_on is None or cell.closes_on is None:
            on = min(to_on, max(from_on, self.today))
            return CellToday(
                from_on, to_on, on, is_recorded, _words(cell.reason), to_on < self.today, False
            )
        on = cell.closes_on if cell.closes_on <= self.today else cell.opens_on
        is_over, is_ahead = cell.closes_on < self.today, cell.opens_on > self.today
        return CellToday(from_on, to_on, on, is_recorded, "", is_over, is_ahead)

    @cached_property
    def _cells(self) -> dict[tuple[str, Each | None, int], ChartCell]:
        year = self.print.year
        return {
            (chart.task, cell.rule.each, _slot(cell.rule.each, cell.from_on, year)): cell
            for chart in self._charts.charts
            for cell in chart.cells
        }

    @cached_property
    def _done(self) -> set[tuple[str, dt.date]]:
        entries = (line.entry for line in self._lines)
        return {(entry.task, entry.on) for entry in entries if entry.mark is Mark.DONE}


@lru_cache(maxsize=64)
def _spans(each: Each | None, year: int) -> Sequence[tuple[dt.date, dt.date]]:
    """The first and last day of each slot of a row with this period; None: of days."""
    if each not in (None, Each.OPEN_DAY):
        return tuple(spans_of_year(each or Each.YEAR, year))
    first_on, count = dt.date(year, 1, 1), dt.date(year, 12, 31).timetuple().tm_yday
    return tuple((first_on + n * _ONE_DAY,) * 2 for n in range(count))


def _words(reason: Reason | None) -> str:
    if reason is None:
        return ""
    return f"{reason.cause.value}: {reason.words}" if reason.words else reason.cause.value


def _slot(each: Each | None, from_on: dt.date, year: int) -> int:
    """Where a cell stands in its row, counted from 0; beyond it for one of another year."""
    if each is Each.WEEK:
        return (from_on - first_monday(year)).days // 7
    if each in MONTHS_OF_EACH and each is not None:
        return (from_on.year - year) * 12 + (from_on.month - 1) // MONTHS_OF_EACH[each]
    return (from_on - dt.date(year, 1, 1)).days
