"""What stands on a unit's chart of a year at one site, before anyone draws it?

A chart has *rows* from top to bottom, the same for every month of the year; a row has *faces*, one
for each cell, in the order of time. The sign of a face says what was printed there:

    .  open: to be filled          ,  open, but its days were over and the record holds nothing
    d  done   u  unused   f  filled   e  explained: what the record held when it was printed
    W  weekday   H  holiday   C  closure   O  out of service   N  not in service yet
    R  retired   B  before the record   E  at another site: pre-marked
    X  pre-marked, for no version of the rule asks for it
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from fleet.domain.prints import Print
from fleet.domain.records import Site, Unit
from fleet.services.charts.days import Cause
from schedules.rules import Each, Kind, Rule

__all__ = [
    "NOT_ASKED",
    "OPEN",
    "OVER",
    "SIGN_OF_CAUSE",
    "ChartRow",
    "DatedDuty",
    "Face",
    "Note",
    "PrintedChart",
    "RowRole",
    "YearChart",
    "box_rows",
    "grid_rows",
]

OPEN, OVER, NOT_ASKED = ".", ",", "X"
SIGN_OF_CAUSE = {
    Cause.WEEKDAY: "W",
    Cause.HOLIDAY: "H",
    Cause.CLOSURE: "C",
    Cause.OUT: "O",
    Cause.NOT_YET: "N",
    Cause.RETIRED: "R",
    Cause.BEFORE: "B",
    Cause.ELSEWHERE: "E",
}


class RowRole(StrEnum):
    """What a row's cells are, and so where they stand."""

    DAY = "day"
    """A cell a day of the year, in the grid of its month."""
    WEEK = "week"
    """A cell an ISO week whose Thursday lies in the year, in the grid of the Thursday's month."""
    ON_DAY = "on the day"
    """A cell a day of the year, to be filled only on the day a dated duty is done."""
    INITIALS = "initials"
    """A cell a day of the year: who filled the day's cells. It is of no rule."""
    BOX = "box"
    """A cell a month, quarter, half-year or year, in the month in which its period ends."""
    DATED = "dated"
    """A box in the head of each page, for a duty due by date; it has no faces."""


class Face(NamedTuple):
    """One cell as it is printed: its sign, and what is written in it, or ''.

    For a mark that is its initials, '✓' where there are none, or the reading.
    """

    sign: str
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartRow:
    """One row; a cell rule that asks for several marks a cell has a row for each of them.

    versions: of the rule, those that spoke on a day of the year with this role and period, oldest
    first; none for initials. each: the period of a week or box row (of a day row: open-day).
    """

    role: RowRole
    task: str
    title: str
    """What the bench reads: the title of the latest version."""
    each: Each | None
    turn: int
    """The first mark of `times`, the second, …, counted from 1."""
    times: int
    versions: tuple[Rule, ...]
    faces: tuple[Face, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedDuty:
    """A duty that is due by date, as it stands on the chart's day."""

    rule: Rule
    last_done: dt.date | None
    done_by: str
    """The vendor that reported it; '' where none did."""
    opens: dt.date | None
    due: dt.date | None
    limit: dt.date | None
    state: str
    """As in the answers of `due`."""


class Note(NamedTuple):
    """Why days of a month are pre-marked: from one day of the month to another, both included."""

    first: int
    last: int
    sign: str
    words: str
    """The holiday's or closure's name, the outage's reason, the other site; may be ''."""


@dataclass(frozen=True, slots=True, kw_only=True)
class YearChart:
    """One unit's chart of a year at a site."""

    unit: Unit
    kind: Kind
    site: Site
    year: int
    on: dt.date
    """The day the record is looked at: today, but never later than the day after the last one of
    the year and of its last week, by which all cells are over. The head tells a year that is over
    as of 31 December."""
    days: str
    """For each day of the year the sign of why nothing is expected of the unit here, else OPEN."""
    rows: tuple[ChartRow, ...]
    """Days, then weeks, then days of dated duties, then initials, then boxes, then those of the
    head, in the order of `dated`."""
    dated: tuple[DatedDuty, ...]
    """Duties due by date in intervals of three months or more, as the head tells them."""
    notes: tuple[tuple[Note, ...], ...]
    """For each month of the year; the closed weekdays are not told."""
    cautions: tuple[str, ...]
    """Each once, the gravest first: the first of each rule, then the second of each, and so on."""

    @property
    def holds_record(self) -> bool:
        """Say whether the record holds anything of it already, or might have."""
        told = {OVER, "d", "u", "f", "e"}
        return any(face.sign in told for row in self.rows for face in row.faces)


@dataclass(frozen=True, slots=True)
class PrintedChart:
    """A chart and the print that it is."""

    chart: YearChart
    print: Print
    differs: Sequence[str] = ()
    """In what this chart differs from the one printed before it of the same unit, site and year."""


def grid_rows(chart: YearChart) -> Sequence[ChartRow]:
    """The rows that stand in a month's grid, all but boxes."""
    return [row for row in chart.rows if row.role not in (RowRole.BOX, RowRole.DATED)]


def box_rows(chart: YearChart) -> Sequence[ChartRow]:
    """The rows whose cells are boxes in the months."""
    return [row for row in chart.rows if row.role is RowRole.BOX]
