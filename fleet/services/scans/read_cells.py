"""Which duties and days do the cells of a page stand for, and what does the record ask of them now?

A page is read by its print: the rows, days and marks that were on it when it left the printer. What
the record says today may differ: a day became a holiday, a rule changed, a mark came in from the
bench. Cells of which that is so go to a person.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from fleet.domain.scans import CellRead, SheetRead, Verdict
from fleet.services.charts.facts import RowRole
from fleet.services.charts.frozen import FrozenRow
from fleet.services.scans.today import CellToday, PrintToday

__all__ = ["ReadCell", "Standing", "read_cells"]


class Standing(StrEnum):
    """What the record holds of a cell now."""

    ASKED = "asked"
    """A mark is expected, and there is none."""
    TO_COME = "to come"
    """A mark will be expected, from a later day on."""
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


def read_cells(today: PrintToday, sheet: SheetRead) -> list[ReadCell]:
    """The cells of a page, of all rows but initials and the boxes in the head, row by row.

    today: what the record says of the cells of the page's print.
    """
    found = [*_printed_open(today, sheet), *_asked_since(today, sheet)]
    return sorted(found, key=lambda one: (one.row, one.slot))


def _printed_open(today: PrintToday, sheet: SheetRead) -> Iterator[ReadCell]:
    for one in sheet.cells:
        row = today.rows[one.row]
        cell = today.cell(row, one.slot)
        if cell is None:
            continue
        standing = Standing.TO_COME if cell.is_ahead else Standing.ASKED
        reason = one.doubt.value if one.doubt else ""
        if cell.is_recorded:
            standing = Standing.RECORDED
        elif cell.closed:
            standing = Standing.NOT_ASKED
            reason = f"printed open; now nothing is asked: {cell.closed}"
        yield _cell(row, one, cell, reason, standing)


def _asked_since(today: PrintToday, sheet: SheetRead) -> Iterator[ReadCell]:
    """Cells of the page that were crossed out in print and are asked for now."""
    for number, slot in sheet.closed:
        row = today.rows[number]
        cell = today.cell(row, slot) if row.role is not RowRole.ON_DAY else None
        if cell is not None and not cell.closed and not cell.is_recorded:
            one = CellRead(number, slot, Verdict.UNCERTAIN, 0.5)
            reason = "crossed out in print; now a mark is asked for"
            yield _cell(row, one, cell, reason, Standing.ASKED_SINCE)


def _cell(
    row: FrozenRow, one: CellRead, cell: CellToday, reason: str, standing: Standing
) -> ReadCell:
    is_told = standing in (Standing.NOT_ASKED, Standing.ASKED_SINCE)
    return ReadCell(
        row=one.row,
        slot=one.slot,
        role=row.role,
        task=row.task,
        title=row.title,
        turn=row.turn,
        from_on=cell.from_on,
        to_on=cell.to_on,
        verdict=Verdict.UNCERTAIN if is_told else one.verdict,
        confidence=one.confidence,
        reason=reason,
        standing=standing,
    )
