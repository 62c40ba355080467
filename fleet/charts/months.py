"""How is a month drawn: its days, its rows with their cells, its boxes, what is in them already?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from fleet.charts.geometry import (
    BOX_HEIGHT,
    BOX_WIDTH,
    DAY_ROW,
    DAY_WIDTH,
    FORM_WIDTH,
    LABEL,
    Division,
    read_geometry,
)
from fleet.charts.ink import Ink, Line, diagonal
from fleet.charts.places import Place, places_of_page
from fleet.charts.words import (
    LETTERS,
    MONTHS,
    face_words,
    label_words,
    note_words,
    period_words,
)
from fleet.services.charts.facts import (
    OPEN,
    OVER,
    ChartRow,
    RowRole,
    YearChart,
    box_rows,
    grid_rows,
)
from fleet.services.charts.periods import days_of_month

__all__ = ["draw_months"]

_EDGE, _CELL, _STRIKE = 0.35, 0.2, 0.25
_DOTS = "0.6 1.5"
_PRE_MARKED = frozenset(("W", *LETTERS))
_ALL = 1000
_TALL = 6.5
_BY_DAY = (RowRole.DAY, RowRole.ON_DAY, RowRole.INITIALS)
_WEEKDAYS = ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su")


def draw_months(ink: Ink, chart: YearChart, geometry: str, page: int) -> None:
    """Draw the months of a page: what all charts share, the labels, what is this chart's own."""
    parts = read_geometry(geometry)
    rows, boxes = grid_rows(chart), box_rows(chart)
    own = geometry, chart.year, page
    ink.keep(own, lambda: _frames(ink, parts, chart.year, page, geometry))
    labels = tuple(label_words(row) for row in rows)
    ink.keep((*own, labels), lambda: _labels(ink, parts, page, labels))
    captions = tuple((row.title, row.versions) for row in boxes)
    if boxes:
        key = (*own, tuple((row.title, row.each, row.turn, row.times) for row in boxes), captions)
        ink.keep(key, lambda: _captions(ink, chart, geometry, page))
    for month in parts.months_of(page):
        _notes(ink, parts, chart, month, geometry)
    _faces(ink, chart.rows, geometry, chart.year, page)


def _frames(ink: Ink, parts: Division, year: int, page: int, geometry: str) -> None:
    """Edges of months and cells, names and numbers of days, crosses where there is no day."""
    for month in parts.months_of(page):
        _days(ink, parts, year, month)
        _grid(ink, parts, year, month, geometry)
        top, bottom = parts.month_top(month), parts.month_top(month) + parts.month_height
        ink.rectangle(0, top, FORM_WIDTH, bottom - top, _EDGE)
        boxes_top = bottom - parts.box_rows * BOX_HEIGHT
        edges: list[Line] = [(LABEL, top, LABEL, bottom)]
        if parts.grid_rows:
            edges.append((0, boxes_top, FORM_WIDTH, boxes_top))
        ink.lines(edges, _EDGE)
    for one in places_of_page(geometry, year, page):
        if not one.first:
            ink.rectangle(one.x, one.y, one.w, one.h, _EDGE)


def _days(ink: Ink, parts: Division, year: int, month: int) -> None:
    top = parts.month_top(month)
    ink.text(1.2, top + 3.45, f"{MONTHS[month - 1]} {year}", 9, bold=True)
    if not parts.grid_rows:
        return
    ink.lines([(0, top + DAY_ROW, FORM_WIDTH, top + DAY_ROW)], _EDGE)
    for day in range(1, days_of_month(year, month) + 1):
        left = LABEL + (day - 1) * DAY_WIDTH
        weekday = _WEEKDAYS[dt.date(year, month, day).weekday()]
        ink.centred(left, DAY_WIDTH, top + 2.3, str(day), 6.2, bold=True)
        ink.centred(left, DAY_WIDTH, top + 4.25, weekday, 5)


def _grid(ink: Ink, parts: Division, year: int, month: int, geometry: str) -> None:
    top = parts.month_top(month)
    count, start = days_of_month(year, month), top + DAY_ROW
    plain: list[Line] = []
    dotted: list[Line] = []
    if parts.grid_rows:
        plain += ((LABEL + n * DAY_WIDTH, top, LABEL + n * DAY_WIDTH, start) for n in range(1, 31))
        for row, role in enumerate(parts.roles[: parts.grid_rows]):
            y = start + row * parts.row
            is_dotted = role == RowRole.ON_DAY
            if row:
                (dotted if is_dotted else plain).append((LABEL, y, FORM_WIDTH, y))
                plain.append((0, y, LABEL, y))
            edges = _edges(geometry, year, month, row)
            (dotted if is_dotted else plain).extend((x, y, x, y + parts.row) for x in edges)
            if role == RowRole.WEEK:
                _beside_weeks(ink, (year, month), y + parts.row / 2 + 0.8)
    ink.lines(plain, _CELL)
    ink.lines(dotted, _EDGE, dots=_DOTS)
    ink.lines(_crosses(parts, month, count), _STRIKE)


def _edges(geometry: str, year: int, month: int, row: int) -> list[float]:
    """Where upright lines part the cells of a row, left and right edges of each once."""
    page = read_geometry(geometry).page_of(month)
    own = [one for one in places_of_page(geometry, year, page) if one.month == month]
    cells = [one for one in own if one.row == row]
    edges = {one.x for one in cells} | {round(one.x + one.w, 3) for one in cells}
    month_end = LABEL + days_of_month(year, month) * DAY_WIDTH
    later = range(days_of_month(year, month) + 1, 31)
    edges |= {round(LABEL + n * DAY_WIDTH, 3) for n in later} | {round(month_end, 3)}
    return sorted(edges - {LABEL, FORM_WIDTH, round(LABEL + 31 * DAY_WIDTH, 3)})


def _beside_weeks(ink: Ink, year_month: tuple[int, int], y: float) -> None:
    """Arrows where days belong to a week whose box stands in the month before or after."""
    year, month = year_month
    count = days_of_month(year, month)
    first = dt.date(year, month, 1).weekday()
    last = dt.date(year, month, count).weekday()
    if first > 3:
        ink.centred(LABEL, (7 - first) * DAY_WIDTH, y, "←", 7)
    if last < 3:
        ink.centred(LABEL + (count - last - 1) * DAY_WIDTH, (last + 1) * DAY_WIDTH, y, "→", 7)


def _crosses(parts: Division, month: int, count: int) -> Iterator[Line]:
    """A cross for every place of a day that the month does not have."""
    top = parts.month_top(month)
    for row in range(parts.grid_rows):
        y = top + DAY_ROW + row * parts.row
        for day in range(count, 31):
            x, to_y, to_x, from_y = diagonal(LABEL + day * DAY_WIDTH, y, DAY_WIDTH, parts.row)
            yield x, to_y, to_x, from_y
            yield x, from_y, to_x, to_y


def _labels(ink: Ink, parts: Division, page: int, labels: Sequence[tuple[str, str]]) -> None:
    """What each grid row is, once a month."""
    for month in parts.months_of(page):
        for row, (title, more) in enumerate(labels):
            y = parts.month_top(month) + DAY_ROW + row * parts.row
            _label(ink, y, parts.row, title, more)


def _label(ink: Ink, y: float, h: float, title: str, more: str) -> None:
    """A title, and what more there is to say, in the middle of the row's height."""
    sizes, pitch = ((6.6, 5.9, 5.4, 4.9), 2.55) if h >= _TALL else ((5.9, 5.4, 4.9), 2.2)
    lines = _worded(ink, title, more, sizes, LABEL - 2.0, int((h - 0.4) // pitch))
    start = y + (h - pitch * len(lines)) / 2 + pitch * 0.78
    for turn, (line, size, bold) in enumerate(lines):
        ink.text(1.2, start + pitch * turn, line, size, bold)


def _worded(
    ink: Ink, title: str, more: str, sizes: Sequence[float], width: float, most: int
) -> list[tuple[str, float, bool]]:
    """A title and below it in bold what more there is to say, as lines with their letters.

    A title that is too long for that is followed by the rest on its last line, as small as may be.
    """
    size, lines = ink.largest(title, sizes, width, most - bool(more))
    if not more:
        return [(line, size, False) for line in lines]
    if lines[-1].endswith("…"):
        run = ink.shaped(f"{title}, {more}", sizes[-1], width, most)
        if not run[-1].endswith("…"):
            return [(line, sizes[-1], False) for line in run]
    small, last = ink.largest(more, sizes[1:], width, 1, bold=True)
    return [*((line, size, False) for line in lines), (last[0], small, True)]


def _captions(ink: Ink, chart: YearChart, geometry: str, page: int) -> None:
    """Beside each box what it is for, of which period, and by when."""
    slot = read_geometry(geometry).slot_width
    for one in places_of_page(geometry, chart.year, page):
        if one.first:
            continue
        row, left = chart.rows[one.row], one.x + BOX_WIDTH - slot + 1.0
        told = period_words(row, one.month, days_of_month(chart.year, one.month))
        _caption(ink, left, one.y, row.title, told, slot - BOX_WIDTH - 2.0)


def _caption(ink: Ink, x: float, y: float, title: str, told: str, width: float) -> None:
    """What a box is for, and of which period, in three lines at most."""
    lines = _worded(ink, title, told, (6.6, 5.9, 5.4), width, 2)
    if lines[0][0].endswith("…"):
        lines = _worded(ink, title, told, (5.4, 4.9, 4.5), width, 3)
    top, pitch = (y + 2.05, 1.85) if len(lines) > 2 else (y + 2.75, 2.55)
    for turn, (line, size, bold) in enumerate(lines):
        ink.text(x, top + pitch * turn, line, size, bold)


def _notes(ink: Ink, parts: Division, chart: YearChart, month: int, geometry: str) -> None:
    """Why days of the month are crossed out; what finds no room in the label stands in free slots
    of the monthly row, which else are for the bench's own notes.
    """
    told = note_words(chart.notes[month - 1])
    bottom = parts.month_top(month) + parts.month_height
    most, width = 3 * parts.box_rows, LABEL - 2.0
    size, lines = ink.largest(told, (5.8, 5.4, 5), width, most) if told else (5.8, [])
    slots = _free_slots(parts, chart.year, month, geometry)
    left = FORM_WIDTH - slots * parts.slot_width + 1.0
    more = ["Notes"] if slots else []
    if slots and lines and lines[-1].endswith("…"):
        whole = ink.shaped(told, size, width, _ALL)
        lines, rest = whole[:most], " ".join(whole[most:])
        more = ink.shaped(rest, size, slots * parts.slot_width - 2.0, 3)
    for turn, line in enumerate(more):
        ink.text(left, bottom - BOX_HEIGHT + 2.05 + 1.92 * turn, line, size)
    top = bottom - parts.box_rows * BOX_HEIGHT
    for turn, line in enumerate(lines):
        ink.text(1.2, top + 2.05 + 1.92 * turn, line, size)


def _free_slots(parts: Division, year: int, month: int, geometry: str) -> int:
    """How many slots of the month's last monthly row have no box."""
    own = places_of_page(geometry, year, parts.page_of(month))
    used = sum(one.month == month and not one.first for one in own)
    return min(parts.slots, parts.slots * parts.box_rows - used)


def _faces(ink: Ink, rows: Sequence[ChartRow], geometry: str, year: int, page: int) -> None:
    """Strike through what is pre-marked, write what the record holds."""
    strikes: list[Line] = []
    first = next((n for n, row in enumerate(rows) if row.role in _BY_DAY), 0)
    for one in places_of_page(geometry, year, page):
        face = rows[one.row].faces[one.slot]
        sign = face.sign
        if sign in (OPEN, OVER):
            continue
        if sign not in _PRE_MARKED:
            _say(ink, one, face_words(rows[one.row].role, sign, face.text))
            continue
        strikes.append(diagonal(one.x, one.y, one.w, one.h))
        if sign in LETTERS and _is_told(rows, first, one, sign):
            ink.text(one.x + 0.7, one.y + 2.25, sign, 5.4, bold=True)
    ink.lines(strikes, _STRIKE)


def _is_told(rows: Sequence[ChartRow], first: int, one: Place, sign: str) -> bool:
    """Say whether the letter stands in this cell: of a day's cells in the first, and in those below
    that are crossed out for another reason.
    """
    is_below = one.first == one.last != 0 and one.row > first
    return not is_below or rows[first].faces[one.slot].sign != sign


def _say(ink: Ink, one: Place, text: str) -> None:
    clean = ink.paper.clean(text)
    size, lines = ink.largest(clean, (7, 6, 5.2, 4.6), one.w - 0.6, 1)
    ink.centred(one.x, one.w, one.y + one.h / 2 + size * 0.127, lines[0], size)
