"""How does text come onto the pages of a packet? Head and foot, paragraphs and tables.

Letter landscape, in millimetres, with margins that an A4 sheet leaves too. All is black on white;
grey is only ever a ground behind letters that say the same.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from fpdf import FPDF
from fpdf.outline import OutlineSection

from fleet.files.paper import POINT, Paper

__all__ = ["BOTTOM", "LEFT", "RIGHT", "TOP", "PacketPages"]

LEFT, RIGHT, TOP, BOTTOM = 11.0, 268.4, 18.0, 198.0
"""The box that sections are written in; head and foot stand outside it."""
_LINE = 1.28
"""The height of a line in that of its letters."""
_TOC_LINES = 66
_PADDING = 1.2
_KEPT_LINES = 8
"""A row of so many lines is not broken between two pages."""


class PacketPages(Paper):
    """A document whose pages have a head and a foot, with the few ways of writing it needs.

    `y` is where the next thing goes.
    """

    def __init__(self, title: str, foot: str, made_at: dt.datetime) -> None:
        super().__init__("landscape", "letter", made_at)
        self.title_line, self.foot_line = self.clean(title), self.clean(foot)
        self.set_title(self.title_line)

    # Pages.

    def header(self) -> None:
        """Write the head and the foot of a page; called at its beginning."""
        self.write_in(8, bold=True)
        self.text(LEFT, 12.5, self.fit(self.title_line, 215))
        self.write_in(8)
        self.set_xy(RIGHT - 40, 9.4)
        self.cell(40, 4, f"page {self.page_no()} of {{nb}}", align="R")
        self.set_line_width(0.2)
        self.line(LEFT, 14.5, RIGHT, 14.5)
        self.write_in(6.5)
        self.text(LEFT, 204, self.fit(self.foot_line, RIGHT - LEFT))
        self.set_y(TOP)

    def section(self, title: str, level: int = 0) -> None:
        """Begin a section: its title, and its place in the table of contents."""
        title = self.clean(title)
        self.room(30 if level == 0 else 22)
        self.start_section(title, level)
        size = 14 if level == 0 else 10
        self.write_in(size, bold=True)
        self.set_y(self.y + size * POINT + 1)
        self.text(LEFT, self.y, self.fit(title, RIGHT - LEFT))
        self.set_y(self.y + 3)

    def new_page_section(self, title: str) -> None:
        """Begin a section at the head of a page."""
        self.add_page()
        self.section(title)

    def room(self, height: float) -> bool:
        """Make sure that so much fits on the page; True where a new one was begun for it."""
        if self.y + height <= BOTTOM:
            return False
        self.add_page()
        return True

    def paragraph(
        self, text: str, size: float = 9, *, bold: bool = False, gap: float = 1.5
    ) -> None:
        """Write a text over the whole width."""
        self.write_in(size, bold=bold)
        height = size * POINT * _LINE
        for line in self.wrap(text, RIGHT - LEFT):
            if self.room(height):
                self.write_in(size, bold=bold)
            self.set_y(self.y + height)
            self.text(LEFT, self.y - height * 0.22, line)
        self.set_y(self.y + gap)

    def rows_under(
        self,
        headings: Sequence[str],
        shares: Sequence[float],
        rows: Iterable[Sequence[str]],
        size: float = 7,
    ) -> None:
        """Write rows under headings, which stand again on every page; shares: of the width."""
        unit = (RIGHT - LEFT) / sum(shares)
        widths = [share * unit for share in shares]
        height = size * POINT * _LINE
        self._headings(headings, widths, size)
        for row in rows:
            self.write_in(size)
            cells = [
                self.wrap(cell, width - _PADDING) for cell, width in zip(row, widths, strict=True)
            ]
            lines = max(map(len, cells))
            if lines <= _KEPT_LINES and self.room(lines * height + 1):
                self._headings(headings, widths, size)
            self._row(cells, widths, headings, size)
        self.set_y(self.y + 3)

    def _headings(self, headings: Sequence[str], widths: Sequence[float], size: float) -> None:
        self.write_in(size, bold=True)
        height = size * POINT * _LINE
        self.room(3 * height)
        self.write_in(size, bold=True)
        self.set_y(self.y + height)
        left = LEFT
        for heading, width in zip(headings, widths, strict=True):
            self.text(left, self.y - height * 0.22, self.fit(heading, width - _PADDING))
            left += width
        self.set_line_width(0.35)
        self.line(LEFT, self.y + 0.4, RIGHT, self.y + 0.4)
        self.set_y(self.y + 0.9)

    def _row(
        self,
        cells: Sequence[Sequence[str]],
        widths: Sequence[float],
        headings: Sequence[str],
        size: float,
    ) -> None:
        self.write_in(size)
        height = size * POINT * _LINE
        for number in range(max(map(len, cells))):
            if self.room(height + 1):
                self._headings(headings, widths, size)
                self.write_in(size)
            self.set_y(self.y + height)
            left = LEFT
            for lines, width in zip(cells, widths, strict=True):
                if number < len(lines) and lines[number]:
                    self.text(left, self.y - height * 0.22, lines[number])
                left += width
        self.set_line_width(0.1)
        self.line(LEFT, self.y + 0.3, RIGHT, self.y + 0.3)
        self.set_y(self.y + 0.8)

    # The table of contents.

    def contents(self, sections: int) -> None:
        """Keep pages for a table of contents of so many sections."""
        self.add_page()
        self.insert_toc_placeholder(_contents, max(1, -(-sections // _TOC_LINES)))

    def rows_of_contents(self, outline: Sequence[OutlineSection]) -> None:
        """Write the table of contents, two columns a page."""
        half = _TOC_LINES // 2
        for number, entry in enumerate(outline):
            place = number % _TOC_LINES
            if number and place == 0:
                self.add_page()
            if place == 0:
                self.write_in(14, bold=True)
                self.text(LEFT, TOP + 5, "Contents")
            left = LEFT if place < half else LEFT + 132
            y = TOP + 13 + (place % half) * 5
            self.write_in(8.5, bold=entry.level == 0)
            indent = 5 * entry.level
            name = self.fit(entry.name, 105 - indent)
            self.text(left + indent, y, name)
            link = self.add_link(page=entry.page_number)
            self.link(left, y - 4, 124, 5, link)
            page = str(entry.page_number)
            self.text(left + 122 - self.width(page), y, page)
            start = left + indent + self.width(name) + 2
            self.set_line_width(0.1)
            self.set_dash_pattern(dash=0.3, gap=1.2)
            self.line(start, y, left + 120 - self.width(page), y)
            self.set_dash_pattern()


def _contents(pages: FPDF, outline: list[OutlineSection]) -> None:
    assert isinstance(pages, PacketPages)  # noqa: S101 - the placeholder is made by it alone
    pages.rows_of_contents(outline)
