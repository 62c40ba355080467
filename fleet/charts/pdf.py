"""How do charts become a PDF for the wall, a page after the other?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Literal, cast

from fleet.charts.codes import code_text
from fleet.charts.footer import draw_below
from fleet.charts.geometry import read_geometry
from fleet.charts.header import draw_header, draw_tags
from fleet.charts.ink import Ink
from fleet.charts.months import draw_months
from fleet.files.paper import Paper
from fleet.services.charts.facts import PrintedChart

__all__ = ["chart_pdf"]


def chart_pdf(
    printed: Sequence[PrintedChart],
    paper: str,
    made_at: dt.datetime,
    step: Callable[[int], None] = lambda pages: None,
) -> bytes:
    """The charts as a PDF on letter or a4; the same bytes for the same facts.

    made_at: stands in the PDF, aware of its time zone. step: is told of so many pages more.
    """
    sheet = Paper("landscape", cast(Literal["letter", "a4"], paper), made_at)
    years = sorted({str(one.chart.year) for one in printed})
    sheet.set_title(f"Charts of {', '.join(years)}")
    try:
        _draw(Ink(sheet, paper), sheet, printed, step)
        return bytes(sheet.output())
    finally:
        sheet.shut()


def _draw(
    ink: Ink, sheet: Paper, printed: Sequence[PrintedChart], step: Callable[[int], None]
) -> None:
    opened: tuple[str, ...] = ()
    for one in printed:
        parts = read_geometry(one.print.geometry)
        for page in range(1, parts.pages + 1):
            ink.begin_page()
            if page == 1:
                opened = _outlined(sheet, one, opened)
            _page(ink, one, page)
            ink.end_page()
        step(parts.pages)


def _page(ink: Ink, one: PrintedChart, page: int) -> None:
    geometry = one.print.geometry
    parts = read_geometry(geometry)
    code = code_text(one.print.layout, one.print.number, page)
    draw_tags(ink, page)
    draw_header(ink, one, parts, page, code)
    draw_months(ink, one.chart, geometry, page)
    draw_below(ink, one, parts, code)


def _outlined(sheet: Paper, one: PrintedChart, opened: tuple[str, ...]) -> tuple[str, ...]:
    """Add county, site and unit to the PDF's outline, the first two where they are others."""
    chart = one.chart
    levels = (chart.site.county, f"{chart.site.name} ({chart.site.site})")
    for level, name in enumerate(levels):
        if opened[: level + 1] != levels[: level + 1]:
            sheet.start_section(name, level)
    unit = f"{chart.unit.property_number}, {chart.kind.name}, {chart.year}"
    sheet.start_section(unit, len(levels))
    return levels
