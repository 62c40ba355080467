"""Printed pages with strokes drawn into some cells, as pictures; for tests only."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np

from fleet.charts.geometry import origin
from fleet.charts.pdf import chart_pdf
from fleet.charts.places import Place
from fleet.charts.reading.arrays import Grey
from fleet.charts.reading.pages import open_places, read_pages
from fleet.domain.prints import Print
from fleet.domain.scans import SheetRead, Verdict
from fleet.services.charts.facts import PrintedChart, YearChart
from fleet.services.charts.frozen import frozen_cells, frozen_rows
from tests.fleet.charts import charts_made as made
from tests.fleet.charts.pictures_of import picture

DPI = 200
_PIXELS = DPI / 25.4

Cells = tuple[tuple[int, int], ...]
"""Rows and slots."""


@dataclass(frozen=True)
class Sheet:
    """A page that was printed, and what was written on it."""

    shown: Grey
    print: Print
    page: int
    cells: tuple[Place, ...]
    """Those printed open."""


def printed(chart: YearChart, number: str = "4K7Q09ZX") -> PrintedChart:
    told = {"rows": frozen_rows(chart.rows), "cells": frozen_cells(chart.rows)}
    return made.printed(chart, number, year=chart.year, **told)


@lru_cache(maxsize=8)
def _clean(number: str, page: int) -> Sheet:
    chart = printed(made.microscope(), number)
    pdf = chart_pdf([chart], "letter", made.MADE_AT)
    return Sheet(picture(pdf, page, DPI), chart.print, page, tuple(open_places(chart.print, page)))


def sheet(
    page: int = 1, empty: Iterable[tuple[int, int]] | None = None, number: str = "4K7Q09ZX"
) -> Sheet:
    """A page of a microscope's chart with a tick in each open cell but the empty ones.

    empty: rows and slots; None for all of them.
    """
    clean = _clean(number, page)
    shown = clean.shown.copy()
    blank = {(one.row, one.slot) for one in clean.cells} if empty is None else set(empty)
    for one in clean.cells:
        if (one.row, one.slot) not in blank:
            tick(shown, one)
    return replace(clean, shown=shown)


def tick(shown: Grey, one: Place, pen: float = 0.45, black: int = 40) -> None:
    """Draw a tick of a pen's width in mm into a cell."""
    left, top = origin("letter")
    x, y = one.x + left + one.w / 2, one.y + top + one.h / 2
    points = np.array([(x - 1.2, y + 0.1), (x - 0.3, y + 1.2), (x + 1.6, y - 1.5)])
    line(shown, points, pen, black)


def line(shown: Grey, points: np.ndarray, pen: float = 0.45, black: int = 40) -> None:
    """Draw a line through points in mm of the paper."""
    at = (points * _PIXELS * 16).astype(np.int32).reshape(-1, 1, 2)
    thick = max(1, round(pen * _PIXELS))
    cv2.polylines(shown, [at], False, black, thick, cv2.LINE_AA, 4)


def read(shown: Grey, *prints: Print) -> list[SheetRead]:
    """Read a picture by some prints."""
    known = {one.number: one for one in prints}
    return read_pages(shown, known.get)


def blanks(told: SheetRead) -> set[tuple[int, int]]:
    """Rows and slots of the cells that were read as blank."""
    return {(one.row, one.slot) for one in told.cells if one.verdict is Verdict.BLANK}


def unsure(told: SheetRead) -> set[tuple[int, int]]:
    return {(one.row, one.slot) for one in told.cells if one.verdict is Verdict.UNCERTAIN}
