"""How is a month of charts drawn? A row a unit and task, a column a day, letters for every state.

Nothing hangs on colour: a gap is a black box that says GAP, a pre-marked day a grey one with the
letter of its reason.
"""

from __future__ import annotations

import calendar
from collections.abc import Iterable

from fleet.domain.records import StoredEntry
from fleet.files.packets.months import LETTERS, Block, Line, MonthCharts, reading
from fleet.files.packets.pages import BOTTOM, LEFT, PacketPages
from fleet.services.charts.cells import CellState, ChartCell
from fleet.services.months import first_day, last_day

__all__ = ["draw_months"]

LEGEND = (
    "Initials alone: done (✓ where nobody put initials)  ·  u: not in use that day  ·  f: the paper"
    " shows ink, no more  ·  e: explained afterwards  ·  black GAP: no mark, and the time is over"
    "  ·  empty: still open  ·  figures: the reading  ·  +1: one more mark",
    "Nothing was expected: W weekday the site keeps closed  ·  H holiday  ·  C closure"
    "  ·  O out of service  ·  N not in service yet  ·  R retired  ·  B before the record begins"
    "  ·  E at another site  ·  *: a mark stands there all the same",
)
_LABEL, _DAY = 52.0, 6.6
_ROW, _TALL, _HEAD = 4.4, 6.6, 4.8
_FOOT, _MONTH_HEAD, _BETWEEN = 9.5, 10.6, 4.0
_PREFIX = {CellState.UNUSED: "u", CellState.FILLED: "f", CellState.EXPLAINED: "e"}


def draw_months(pages: PacketPages, months: Iterable[MonthCharts]) -> None:
    """Draw months on the rest of the page and on further ones; none is broken that fits on one."""
    _legend(pages)
    for charts in months:
        drawing = _Drawing(pages, charts)
        pages.set_y(pages.y + _BETWEEN)
        if pages.y + drawing.height > BOTTOM - _FOOT:
            _turn(pages)
        drawing.head(is_first=True)
        for block in charts.blocks:
            drawing.block(block)


def _turn(pages: PacketPages) -> None:
    pages.add_page()
    _legend(pages)


def _legend(pages: PacketPages) -> None:
    """Write what the letters mean at the foot of the page."""
    pages.write_in(5.8)
    for number, line in enumerate(LEGEND):
        pages.text(LEFT, BOTTOM - 4 + 3.2 * number, pages.clean(line))


class _Drawing:
    def __init__(self, pages: PacketPages, charts: MonthCharts) -> None:
        self._pages, self._charts = pages, charts
        self._first_on, self._last_on = first_day(charts.month), last_day(charts.month)
        self._right = LEFT + _LABEL + self._last_on.day * _DAY

    @property
    def height(self) -> float:
        """How much of a page the whole month takes."""
        return _MONTH_HEAD + sum(_block_height(block) for block in self._charts.blocks)

    def head(self, *, is_first: bool) -> None:
        """Write the month, the site's closed days, the numbers of the days."""
        pages, month, top = self._pages, self._first_on, self._pages.y
        name = f"{calendar.month_name[month.month]} {month.year}"
        if is_first:
            pages.start_section(name, 1)
        pages.write_in(11, bold=True)
        pages.text(LEFT, top + 2, f"Charts of {name}{'' if is_first else ', continued'}")
        pages.write_in(7)
        closed = pages.clean(self._charts.closed)
        pages.text(LEFT + 75, top + 2, pages.fit(closed, 182))
        for day in range(1, self._last_on.day + 1):
            left = LEFT + _LABEL + (day - 1) * _DAY
            weekday = calendar.day_abbr[month.replace(day=day).weekday()][:2]
            pages.write_in(6.5, bold=True)
            self._centred(left, _DAY, top + 7, str(day))
            pages.write_in(5.5)
            self._centred(left, _DAY, top + 9.6, weekday)
        pages.set_y(top + _MONTH_HEAD)

    def block(self, block: Block) -> None:
        """Draw a unit, on a page of its own where it does not fit on this one."""
        pages, limit = self._pages, BOTTOM - _FOOT
        if pages.y + min(_block_height(block), limit - 40) > limit:
            self._continue()
        self._title(block, "")
        for line in block.lines:
            if pages.y + _height(line) > limit:
                self._continue()
                self._title(block, ", continued")
            self._line(line)

    def _continue(self) -> None:
        _turn(self._pages)
        self.head(is_first=False)

    def _title(self, block: Block, more: str) -> None:
        pages = self._pages
        pages.write_in(7, bold=True)
        y = pages.y + _HEAD - 1.3
        title = pages.fit(pages.clean(block.title + more), 130)
        pages.text(LEFT, y, title)
        start = LEFT + pages.width(title) + 4
        pages.write_in(6.5)
        pages.text(start, y, pages.fit(pages.clean(block.told), self._right - start))
        pages.set_y(pages.y + _HEAD)

    def _line(self, line: Line) -> None:
        pages, top = self._pages, self._pages.y
        pages.write_in(6.3)
        label = pages.fit(pages.clean(line.label), _LABEL - 1.5)
        pages.text(LEFT, top + _height(line) / 2 + 0.8, label)
        if line.text:
            self._box(LEFT + _LABEL, self._right, line, line.text)
        for cell in line.cells:
            if cell.from_on == cell.to_on:
                self._day(cell, line)
            else:
                self._period(cell, line)
        pages.set_y(top + _height(line))

    def _box(self, left: float, right: float, line: Line, text: str) -> None:
        pages = self._pages
        pages.set_line_width(0.12)
        pages.rect(left, pages.y, right - left, _height(line))
        pages.write_in(6)
        told = pages.fit(pages.clean(text), right - left - 1.6)
        pages.text(left + 0.8, pages.y + _height(line) / 2 + 0.75, told)

    def _day(self, cell: ChartCell, line: Line) -> None:
        left = LEFT + _LABEL + (cell.from_on.day - 1) * _DAY
        self._ground(cell, left, _DAY, _height(line))
        self._say(cell, left, _DAY, _height(line))

    def _ground(self, cell: ChartCell, left: float, width: float, height: float) -> None:
        """The box of a cell: grey where nothing was expected, black where the mark is missing."""
        pages, edge = self._pages, 0.3
        pages.set_line_width(0.12)
        if cell.state is CellState.PRE_MARKED:
            pages.set_fill_color(222)
            pages.rect(left, pages.y, width, height, "DF")
            pages.set_fill_color(0)
            return
        pages.rect(left, pages.y, width, height)
        if cell.state is CellState.GAP:
            pages.rect(left + edge, pages.y + edge, width - 2 * edge, height - 2 * edge, "F")

    def _say(self, cell: ChartCell, left: float, width: float, height: float) -> None:
        """Write into the box of a day."""
        pages, y = self._pages, self._pages.y
        if cell.state is CellState.GAP:
            middle, count = y + height / 2 + 0.75, _count(cell)
            self._white(left, width, middle - (1.1 if count else 0), "GAP")
            self._white(left, width, middle + 1.5, count)
            return
        text = _short(cell)
        if value := reading(cell):
            pages.write_in(5.2)
            self._centred(left, width, y + height - 1, pages.fit(pages.clean(value), width - 0.3))
            height *= 0.6
        if text:
            pages.write_in(5.6)
            middle = y + height / 2 + 0.75
            self._centred(left, width, middle, pages.fit(pages.clean(text), width - 0.3))

    def _period(self, cell: ChartCell, line: Line) -> None:
        """A cell of several days: a box over those that lie in the month, told in words."""
        first_on = max(cell.from_on, self._first_on)
        last_on = min(cell.to_on, self._last_on)
        left = LEFT + _LABEL + (first_on.day - 1) * _DAY
        width = (last_on.day - first_on.day + 1) * _DAY
        self._ground(cell, left, width, _height(line))
        pages, middle = self._pages, self._pages.y + _height(line) / 2 + 0.75
        pages.write_in(5.8)
        text = _long(cell)
        if pages.width(pages.clean(text)) > width - 0.6:
            text = "GAP" if cell.state is CellState.GAP else _short(cell)
        if cell.state is CellState.GAP:
            self._white(left, width, middle, text)
            return
        pages.write_in(5.8)
        self._centred(left, width, middle, pages.fit(pages.clean(text), width - 0.6))

    def _white(self, left: float, width: float, y: float, text: str) -> None:
        pages = self._pages
        pages.write_in(5.2, bold=True)
        pages.set_text_color(255)
        self._centred(left, width, y, pages.fit(text, width - 0.2))
        pages.set_text_color(0)

    def _centred(self, left: float, width: float, y: float, text: str) -> None:
        pages = self._pages
        pages.text(left + max(0.1, (width - pages.width(text)) / 2), y, text)


def _block_height(block: Block) -> float:
    return _HEAD + sum(map(_height, block.lines))


def _height(line: Line) -> float:
    return _TALL if line.is_tall else _ROW


def _count(cell: ChartCell) -> str:
    """Of a cell that asks for several marks, how many it has."""
    return f"{len(cell.marks)}/{cell.rule.times}" if cell.rule.times > 1 else ""


def _initials(line: StoredEntry) -> str:
    return line.entry.initials.strip() or "✓"


def _short(cell: ChartCell) -> str:
    """What a day's box says."""
    if cell.state is CellState.PRE_MARKED and cell.reason is not None:
        return LETTERS[cell.reason.cause] + ("*" if cell.marks else "")
    if not cell.marks:
        return ""
    more = f"+{len(cell.marks) - 1}" if len(cell.marks) > 1 else ""
    return _mark_words(cell.marks[-1], cell.state) + more


def _mark_words(line: StoredEntry, state: CellState) -> str:
    prefix = _PREFIX.get(state)
    if prefix is None:
        return _initials(line)
    return f"{prefix} {line.entry.initials.strip()}".strip()


def _long(cell: ChartCell) -> str:
    """What a box over several days says."""
    if cell.state is CellState.PRE_MARKED and cell.reason is not None:
        words = f": {cell.reason.words}" if cell.reason.words else ""
        star = "*" if cell.marks else ""
        return f"{LETTERS[cell.reason.cause]}{star} {cell.reason.cause}{words}"
    told = ", ".join(f"{_said(line)} {line.entry.on:%m-%d}" for line in cell.marks)
    if cell.state is CellState.GAP:
        count = f" {_count(cell)}" if _count(cell) else ""
        return f"GAP{count} {cell.opens_on:%m-%d} to {cell.closes_on:%m-%d}"
    return told or f"open to {cell.closes_on}"


def _said(line: StoredEntry) -> str:
    mark = line.entry.mark
    value = f" {line.entry.reading}" if line.entry.reading else ""
    return _mark_words(line, CellState(mark.value) if mark else CellState.DONE) + value
