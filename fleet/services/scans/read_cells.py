"""Which duties and days do the cells of a page stand for, and what does the record ask of them now?

A page is read by its print: the rows, days and marks that were on it when it left the printer. What
the record says today may differ: a day became a holiday, a rule changed, a mark came in from the
bench. Cells of which that is so go to a person.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleet.domain.prints import Print
from fleet.domain.scans import CellRead, SheetRead, Verdict
from fleet.errors import BadInput
from fleet.services.charts.facts import NOT_ASKED, OPEN, OVER, SIGN_OF_CAUSE, RowRole, YearChart
from fleet.services.charts.frozen import FrozenRow, RowKey, row_key, rows_of
from fleet.services.charts.periods import spans_of_year
from fleet.services.charts.years import ChartQuestion, year_charts
from fleet.services.ports import PublicHolidays, Record

__all__ = ["ReadCell", "Standing", "charts_now", "read_cells"]

_ONE_DAY = dt.timedelta(days=1)
_CLOSED = frozenset((*SIGN_OF_CAUSE.values(), NOT_ASKED))
_WHY = {
    "W": "the site is closed that day",
    "H": "a holiday",
    "C": "a closure",
    "O": "the unit was out of service",
    "N": "the unit was not in service yet",
    "R": "the unit was retired",
    "B": "before the record",
    "E": "the unit was at another site",
    NOT_ASKED: "no rule asks for it",
}


class Standing(StrEnum):
    """What the record holds of a cell now."""

    ASKED = "asked"
    """A mark is expected, and there is none."""
    RECORDED = "recorded"
    NOT_ASKED = "not asked"
    """It was printed open, and nothing is expected any more."""
    ASKED_SINCE = "asked since"
    """It was crossed out in print, and a mark is expected now."""


@dataclass(frozen=True, slots=True)
class ReadCell:
    """One cell of a page that was read."""

    row: int
    slot: int
    """As in `fleet.charts.places.Place`."""
    role: RowRole
    task: str
    title: str
    turn: int
    """The first mark of a cell that asks for several, the second, …"""
    from_on: dt.date
    to_on: dt.date
    verdict: Verdict
    confidence: float
    reason: str
    """Why a person must look, in words; '' where none must."""
    standing: Standing


def charts_now(
    record: Record, public_holidays: PublicHolidays, prints: Sequence[Print], now: dt.datetime
) -> dict[str, YearChart]:
    """What the record would print today for each print, by its number; none where there is no such
    chart any more.
    """
    found = {}
    for one in prints:
        question = ChartQuestion(year=one.year, now=now, numbers=(one.property_number,))
        try:
            charts = year_charts(record, public_holidays, question).charts
        except BadInput:
            continue
        here = [chart for chart in charts if chart.site.site == one.site]
        if here:
            found[one.number] = here[0]
    return found


def read_cells(print_: Print, sheet: SheetRead, chart: YearChart | None) -> list[ReadCell]:
    """The cells of a page of one print, of all rows but initials and the boxes in the head.

    chart: what would be printed today; None where there is no such chart any more.
    """
    rows = rows_of(print_)
    now = _signs_now(chart)
    found = []
    for one in sheet.cells:
        row = rows[one.row]
        if row.role is not RowRole.INITIALS:
            span = _span(row, one.slot, print_.year)
            sign = now.get(row_key(row), "")[one.slot : one.slot + 1] or NOT_ASKED
            found.append(_cell(row, one, span, sign))
    found += _asked_since(print_, sheet, rows, now)
    return sorted(found, key=lambda one: (one.row, one.slot))


def _cell(row: FrozenRow, one: CellRead, span: tuple[dt.date, dt.date], sign: str) -> ReadCell:
    verdict, reason = one.verdict, one.doubt.value if one.doubt else ""
    standing = Standing.ASKED
    if sign in _CLOSED:
        standing, verdict = Standing.NOT_ASKED, Verdict.UNCERTAIN
        reason = f"printed open; now nothing is asked: {_WHY[sign]}"
    elif sign not in (OPEN, OVER):
        standing = Standing.RECORDED
    what = row.task, row.title, row.turn
    return ReadCell(
        one.row, one.slot, row.role, *what, *span, verdict, one.confidence, reason, standing
    )


def _asked_since(
    print_: Print,
    sheet: SheetRead,
    rows: Sequence[FrozenRow],
    now: Mapping[RowKey, str],
) -> Iterator[ReadCell]:
    """Cells of the page that were crossed out in print and are asked for now."""
    for number, slot in sheet.closed:
        row = rows[number]
        is_cell = row.role in (RowRole.DAY, RowRole.WEEK, RowRole.BOX)
        if is_cell and now.get(row_key(row), "")[slot : slot + 1] in (OPEN, OVER):
            first_on, last_on = _span(row, slot, print_.year)
            yield ReadCell(
                number,
                slot,
                row.role,
                row.task,
                row.title,
                row.turn,
                first_on,
                last_on,
                Verdict.UNCERTAIN,
                0.5,
                "crossed out in print; now a mark is asked for",
                Standing.ASKED_SINCE,
            )


def _signs_now(chart: YearChart | None) -> dict[RowKey, str]:
    rows = chart.rows if chart else ()
    return {row_key(row): "".join(face.sign for face in row.faces) for row in rows}


def _span(row: FrozenRow, slot: int, year: int) -> tuple[dt.date, dt.date]:
    """First and last day of a cell."""
    if row.role in (RowRole.DAY, RowRole.ON_DAY):
        on = dt.date(year, 1, 1) + slot * _ONE_DAY
        return on, on
    assert row.each is not None  # noqa: S101 - weeks and boxes have a period
    return list(spans_of_year(row.each, year))[slot]
