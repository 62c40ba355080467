"""How is a procedure card drawn? A page a kind, portrait, its cautions framed beside each task.

The letters shrink in steps until a card fits on one page. One that would need letters smaller than
SMALLEST is set on as few pages as those take, each told as page 1 of 2. Black on white, without
colour or grey: what must be seen first stands in a heavy frame.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Literal

from fleet.charts.card_blocks import LINE, PAD, SIGN, SMALLEST, TITLE_GAP, Block, Line, Setting
from fleet.files.paper import POINT, Paper
from fleet.services.charts.card_words import CardWords, card_words
from fleet.services.charts.cards import Card

__all__ = ["cards_pdf"]

_MARGIN, _HEAD, _FOOT = 14.0, 28.0, 31.0
_HEAVY, _THIN = 0.8, 0.2
_MOST_SPREAD = 6.0
_NAME, _LEAST_NAME = 22.0, 9.0
_HASH_SHOWN = 12


def cards_pdf(
    cards: Sequence[Card],
    paper: Literal["letter", "a4"],
    made_at: dt.datetime,
    language: str = "en",
) -> bytes:
    """The cards as one PDF, each on a page of its own or on as few as it needs.

    made_at: an instant in UTC. language: en or es, of the words that are not the rule book's
    (NotFound for another).
    """
    words = card_words(language)
    sheet = Paper("portrait", paper, made_at, language)
    try:
        sheet.set_title(words.card)
        for card in cards:
            _CardPages(sheet, card, words, made_at).draw()
        return bytes(sheet.output())
    finally:
        sheet.shut()


class _CardPages:
    """One card on its pages; lengths in millimetres from the upper left corner."""

    def __init__(self, sheet: Paper, card: Card, words: CardWords, made_at: dt.datetime) -> None:
        self._sheet, self._card, self._words, self._made_at = sheet, card, words, made_at
        self._left, self._right = _MARGIN, sheet.w - _MARGIN
        self._width = self._right - self._left
        self._foot = sheet.h - _MARGIN - _FOOT

    def draw(self) -> None:
        """Set the duties and draw every page of them."""
        room = self._foot - _MARGIN - _HEAD
        setting = Setting.largest(self._sheet, self._words, self._card.duties, self._width, room)
        for number, blocks in enumerate(setting.pages, start=1):
            self._sheet.add_page()
            if number == 1:
                self._sheet.start_section(self._sheet.clean(self._card.name))
            self._head()
            top = _MARGIN + _HEAD
            if not blocks:
                self._sheet.write_in(setting.size)
                self._sheet.text(self._left, top + 6, self._words.no_duty)
            spread = _spread(blocks, room)
            for block in blocks:
                self._block(block, top, setting.size)
                top += block.height + spread
            self._foot_of(number, len(setting.pages))

    # Head and foot.

    def _head(self) -> None:
        """The kind, and in one line what is written on its chart."""
        sheet, name = self._sheet, self._sheet.clean(self._card.name)
        sheet.write_in(9)
        sheet.text(self._left, _MARGIN + 2.5, self._words.card)
        size = _NAME
        sheet.write_in(size, bold=True)
        while sheet.width(name) > self._width and size > _LEAST_NAME:
            size -= 1
            sheet.write_in(size, bold=True)
        sheet.text(self._left, _MARGIN + 12, sheet.fit(name, self._width))
        sheet.set_line_width(_THIN)
        sheet.rect(self._left, _MARGIN + 15.5, self._width, 7.5)
        self._told(self._words.on_the_chart, self._words.marks, _MARGIN + 20.4, 9.5)

    def _foot_of(self, number: int, pages: int) -> None:
        """What to do first when something is wrong, what the card defers to, where it is from."""
        sheet, words, top = self._sheet, self._words, self._foot + 4
        sheet.set_line_width(_HEAVY)
        sheet.rect(self._left, top, self._width, 12)
        sheet.write_in(10.5, bold=True)
        sheet.text(self._left + 2, top + 4.8, words.wrong)
        self._shrunk(words.wrong_first, self._left + 2, top + 9.4, 9.5)
        sheet.write_in(SMALLEST + 1)
        for turn, line in enumerate(sheet.wrap(words.defers, self._width)):
            sheet.text(self._left, top + 16.6 + 3.6 * turn, line)
        sheet.write_in(SMALLEST)
        book = words.book.format(sha256=self._card.book_sha256[:_HASH_SHOWN], on=self._card.on)
        printed = words.printed.format(at=f"{self._made_at:%Y-%m-%d %H:%M}")
        sheet.text(self._left, top + 26, f"{book}  ·  {printed}")
        page = words.page.format(page=number, pages=pages)
        sheet.text(self._right - sheet.width(page), top + 26, page)

    def _told(self, head: str, text: str, y: float, size: float) -> None:
        """A head in heavy letters and its text after it."""
        sheet = self._sheet
        sheet.write_in(size, bold=True)
        sheet.text(self._left + 2, y, head)
        self._shrunk(text, self._left + 4.5 + sheet.width(head), y, size)

    def _shrunk(self, text: str, left: float, y: float, size: float) -> None:
        """A text on one line to the right edge, in smaller letters where it would not fit."""
        sheet, width = self._sheet, self._right - 2 - left
        sheet.write_in(size)
        sheet.write_in(min(size, size * width / sheet.width(text)))
        sheet.text(left, y, text)

    # Duties.

    def _block(self, block: Block, top: float, size: float) -> None:
        sheet = self._sheet
        sheet.set_line_width(_THIN)
        sheet.line(self._left, top, self._right, top)
        y = self._lines(block.title, self._left, top + PAD) + TITLE_GAP
        if block.cautions:
            height = _height(block.cautions) + 2 * PAD
            sheet.set_line_width(_HEAVY)
            sheet.rect(self._left, y, block.cautions_width, height)
            self._sign(y, height, size)
            self._lines(block.cautions, self._left + SIGN + PAD, y + PAD)
        self._lines(block.facts, self._left + block.facts_at, y + PAD)

    def _sign(self, top: float, height: float, size: float) -> None:
        """White on black: !, as high as the frame lets it be."""
        sheet = self._sheet
        sheet.rect(self._left, top, SIGN, height, "F")
        sheet.write_in(min(2.2 * size, height / POINT / LINE), bold=True)
        sheet.set_text_color(255)
        middle = top + height / 2 + 0.36 * sheet.font_size_pt * POINT
        sheet.text(self._left + (SIGN - sheet.width("!")) / 2, middle, "!")
        sheet.set_text_color(0)

    def _lines(self, lines: Sequence[Line], left: float, top: float) -> float:
        """Write lines under each other; where the next would begin."""
        for line in lines:
            self._sheet.write_in(line.size, bold=line.is_bold)
            y = top + line.above + line.size * POINT
            self._sheet.text(left + line.indent, y, line.text)
            if line.bullet:
                self._sheet.text(left, y, line.bullet)
            top += line.height
        return top


def _spread(blocks: Sequence[Block], room: float) -> float:
    """How far apart blocks may stand so that a page is not all white at its end."""
    free = room - sum(block.height for block in blocks)
    return min(_MOST_SPREAD, free / max(1, len(blocks)))


def _height(lines: Sequence[Line]) -> float:
    return sum(line.height for line in lines)
