"""What stands at the head of a page: whose chart it is, which part, and the long duties by date."""

from __future__ import annotations

from functools import partial

from fleet.charts.codes import symbol
from fleet.charts.geometry import (
    CODE_CORNERS,
    DATED_FEW,
    DATED_LEFT,
    MODULE,
    TAG_CORNERS,
    TAG_MODULE,
    Division,
)
from fleet.charts.ink import Ink
from fleet.charts.places import places_of_head
from fleet.charts.tags import modules_of
from fleet.charts.words import duty_words, page_words, print_words, unit_words
from fleet.services.charts.facts import PrintedChart
from notifications.digests.words import county

__all__ = ["draw_header", "draw_tags"]

_LEFT, _RIGHT = 37.0, 222.0
_MIDDLE, _BETWEEN = 122.0, 5.0


def draw_tags(ink: Ink, page: int) -> None:
    """Draw the tags in the corners of the box."""
    for corner, (x, y) in enumerate(TAG_CORNERS):
        draw = partial(ink.modules, modules_of(page, corner), x, y, TAG_MODULE)
        ink.keep(("tag", page, corner), draw)


def draw_header(ink: Ink, printed: PrintedChart, parts: Division, page: int, code: str) -> None:
    """Draw the codes, and between them what the page is of and which duties are due by date."""
    modules = symbol(code)
    for x, y in CODE_CORNERS:
        ink.modules(modules, x, y, MODULE)
    duties = printed.chart.dated
    edge = _MIDDLE if duties else _RIGHT
    _identity(ink, printed, edge)
    told = page_words(page, parts.pages, parts.months_of(page))
    _shrunk(ink, _LEFT, 19.0, told, (8.6, 8, 7), edge - _LEFT, bold=True)
    ink.text(_LEFT, 21.9, code, 6.6, bold=True)
    start, is_copy = _LEFT + ink.width(code, 6.6, bold=True) + 2.0, bool(printed.print.known_at)
    sizes = 6, 5.4, 4.9, 4.4
    _shrunk(ink, start, 21.9, print_words(printed.print), sizes, edge - start, bold=is_copy)
    _duties(ink, printed, page)


def _identity(ink: Ink, printed: PrintedChart, edge: float) -> None:
    """The unit, the year, the site; the same on every page of the chart."""
    chart, unit = printed.chart, printed.chart.unit
    width, year = edge - _LEFT, str(chart.year)
    ink.right(edge, 4.7, year, 15, bold=True)
    free = width - ink.width(year, 15, bold=True) - 3
    _shrunk(ink, _LEFT, 4.7, unit.property_number, (15, 12, 9), free, bold=True)
    _shrunk(ink, _LEFT, 8.4, chart.kind.name, (10, 9, 8, 7, 6), width, bold=True)
    place = f"{chart.site.name} ({chart.site.site}), {county(chart.site.county)}"
    size, lines = ink.largest(place, (7.6, 7, 6.4), width, 2)
    y = 11.2 if len(lines) > 1 else 12.1
    for line in lines:
        ink.text(_LEFT, y, line, size)
        y += 2.4
    told = unit_words(unit)
    _shrunk(ink, _LEFT, y + (0.0 if len(lines) > 1 else 0.5), told, (7, 6.4, 5.8, 5.2), width)


def _shrunk(
    ink: Ink,
    x: float,
    y: float,
    text: str,
    sizes: tuple[float, ...],
    width: float,
    bold: bool = False,
) -> None:
    """Write one line in the largest of some sizes that has room for it, else cut."""
    size, lines = ink.largest(text, sizes, width, 1, bold)
    ink.text(x, y, lines[0], size, bold)


def _duties(ink: Ink, printed: PrintedChart, page: int) -> None:
    """Each with a box: what is due by date is written here on the day it is done."""
    chart, geometry = printed.chart, printed.print.geometry
    boxes = places_of_head(geometry, chart.year, page)
    left = _MIDDLE + _BETWEEN
    width, most = DATED_LEFT - left - 1.5, 1 if len(boxes) > DATED_FEW else 2
    for duty, box in zip(chart.dated, boxes, strict=True):
        top = box.y
        title, last, due = duty_words(duty, chart)
        size, lines = ink.largest(title, (7, 6.2, 5.6, 5.1), width, most, bold=True)
        for line in lines:
            top += 2.3
            ink.text(left, top, line, size, bold=True)
        _shrunk(ink, left, top + 2.25, last, (6, 5.4, 4.9), width)
        _shrunk(ink, left, top + 4.45, due, (6, 5.4, 4.9), width)
        ink.rectangle(box.x, box.y, box.w, box.h, 0.3)
        asked = "done on, by (firm), initials:" if duty.rule.vendor else "done on, initials:"
        ink.text(box.x + 0.7, box.y + 2.3, asked, 5.6)
