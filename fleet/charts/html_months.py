"""Which tables does each month of a chart have, when it is read and not looked at?

The cells of days are a table, those of weeks another, those of longer periods a third, so that each
cell has one row and one column that name it. As on paper, a week stands in the month of its
Thursday, a longer period in the month in which it ends.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

from fleet.charts.cell_words import CellWords, day_cell, period_cell
from fleet.charts.words import MONTHS, label_words, note_words, period_words
from fleet.services.charts.facts import OPEN, OVER, ChartRow, RowRole, YearChart, box_rows
from fleet.services.charts.periods import MONTHS_OF_EACH, days_of_month, is_end_month, thursdays
from schedules.rules import Each

__all__ = ["DayColumn", "MonthPart", "RowPart", "month_parts"]

_OF_DAYS = (RowRole.DAY, RowRole.ON_DAY, RowRole.INITIALS)
_DAY = dt.timedelta(days=1)


class DayColumn(NamedTuple):
    """The head of a day's column: 'Friday 1 January', and what is shown for it, '1 Fr'."""

    said: str
    shown: str


class RowPart(NamedTuple):
    """A row: its title, what else to know of it or '', its period or '', its cells."""

    title: str
    more: str
    period: str
    cells: Sequence[CellWords]


@dataclass(frozen=True, slots=True)
class MonthPart:
    """The tables of one month; a table without rows is not there."""

    number: int
    name: str
    notes: str
    """Why days of it are crossed out, or ''."""
    days: Sequence[DayColumn]
    day_rows: Sequence[RowPart]
    weeks: Sequence[str]
    """'Week 1, 29 December to 4 January'."""
    week_rows: Sequence[RowPart]
    boxes: Sequence[RowPart]


def month_parts(chart: YearChart) -> list[MonthPart]:
    """The months of the chart that have a cell, in order."""
    lengths = [days_of_month(chart.year, month) for month in range(1, 13)]
    starts = accumulate(lengths, initial=0)
    parts = (
        _Month(chart, month, start, length).part()
        for month, start, length in zip(range(1, 13), starts, lengths, strict=False)
    )
    return [part for part in parts if part.day_rows or part.week_rows or part.boxes]


@dataclass(frozen=True, slots=True)
class _Month:
    """A month of a chart; start: of its first day among the year's, from 0."""

    chart: YearChart
    month: int
    start: int
    length: int

    def part(self) -> MonthPart:
        chart, notes = self.chart, self.chart.notes[self.month - 1]
        rows, weeks = chart.rows, list(self._weeks())
        return MonthPart(
            number=self.month,
            name=f"{MONTHS[self.month - 1]} {chart.year}",
            notes=note_words(notes),
            days=[_day_column(on) for on in self._days()],
            day_rows=[self._days_row(row) for row in rows if row.role in _OF_DAYS],
            weeks=[_week_words(thursday) for _, thursday in weeks],
            week_rows=[self._weeks_row(row, weeks) for row in rows if row.role is RowRole.WEEK],
            boxes=list(self._boxes()),
        )

    def _days(self) -> list[dt.date]:
        return [dt.date(self.chart.year, self.month, day + 1) for day in range(self.length)]

    def _weeks(self) -> Iterator[tuple[int, dt.date]]:
        """The turn among the year's, and the Thursday, of each week that stands in the month."""
        for turn, thursday in enumerate(thursdays(self.chart.year)):
            if thursday.month == self.month:
                yield turn, thursday

    def _days_row(self, row: ChartRow) -> RowPart:
        notes = self.chart.notes[self.month - 1]
        turns = range(self.start, self.start + self.length)
        faces = row.faces[self.start : self.start + self.length]
        cells = [
            day_cell(face, row.role, on, notes, is_free=self._is_free(row, turn))
            for turn, on, face in zip(turns, self._days(), faces, strict=True)
        ]
        return RowPart(*label_words(row), "", cells)

    def _is_free(self, row: ChartRow, turn: int) -> bool:
        """Say whether no duty of the day itself asks that a cell be filled."""
        if row.role is RowRole.INITIALS:
            days = (one.faces[turn] for one in self.chart.rows if one.role is RowRole.DAY)
            return all(face.sign not in (OPEN, OVER) for face in days)
        return row.role is RowRole.ON_DAY

    def _weeks_row(self, row: ChartRow, weeks: Sequence[tuple[int, dt.date]]) -> RowPart:
        notes = self.chart.notes[self.month - 1]
        cells = [
            period_cell(row.faces[turn], notes, thursday.day - 3, thursday.day + 3)
            for turn, thursday in weeks
        ]
        return RowPart(*label_words(row), "", cells)

    def _boxes(self) -> Iterator[RowPart]:
        """The boxes whose period ends with the month."""
        notes = self.chart.notes[self.month - 1]
        for row in box_rows(self.chart):
            each = row.each or Each.MONTH
            if is_end_month(each, self.month):
                face = row.faces[self.month // MONTHS_OF_EACH[each] - 1]
                period = period_words(row, self.month, self.length)
                cell = period_cell(face, notes, 1, self.length)
                yield RowPart(row.title, "", period, [cell])


def _day_column(on: dt.date) -> DayColumn:
    return DayColumn(f"{on:%A} {on.day} {on:%B}", f"{on.day} {on:%a}"[:-1])


def _week_words(thursday: dt.date) -> str:
    first, last = thursday - 3 * _DAY, thursday + 3 * _DAY
    month = "" if first.month == last.month else f" {first:%B}"
    number = thursday.isocalendar().week
    return f"Week {number}, {first.day}{month} to {last.day} {last:%B}"
