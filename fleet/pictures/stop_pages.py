"""How do the stops of a trip stand on pages, in letters of a size?

Lengths are millimetres, sizes points. Every measure grows with the letters; a stop is kept on one
page where it fits on one, and says so where it goes on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from fleet.files.paper import POINT
from fleet.pictures.plan_paper import MARGIN, PlanPaper
from fleet.pictures.plan_words import StopWords
from fleet.pictures.stop_text import StopText, TripText, UnitText

__all__ = ["LARGEST", "SMALLEST", "STEP", "StopPages"]

LARGEST, SMALLEST, STEP = 10.0, 7.0, 0.25
_LEAST = 5.0
"""No letters are smaller, also where a cell is narrow."""
_LINE, _PAD, _SIGN, _GAP = 1.24, 0.9, 8.0, 1.6
_HEAVY, _THIN = 0.7, 0.15
_COLUMNS = (
    ("done", 0.055),
    ("not", 0.055),
    ("unit, kind", 0.23),
    ("model, serial", 0.21),
    ("task", 0.2),
    ("min, at", 0.075),
    ("reading", 0.095),
    ("initials", 0.08),
)
"""Headings of a unit's row, and their shares of the width."""
_DEFERS = (
    "The manufacturer's manual, the site's safety officer and local rules come first: where they"
    " differ from this list, follow them. Not sure that it is safe? Leave it, tick 'not', and say"
    " why."
)
_AGAIN = "! The cautions are on page 1; they and the manufacturer's manual hold here too."
_NO_CAUTION = "The rule book has no caution for the units of this trip."


@dataclass(frozen=True, slots=True)
class _Run:
    """A stop, or what of it stands on one page."""

    stop: StopText
    units: list[UnitText]
    is_new_page: bool
    is_continued: bool = False


class StopPages:
    """One stop list in letters of one size."""

    def __init__(
        self, sheet: PlanPaper, text: TripText, words: StopWords, title: str, size: float
    ) -> None:
        self._sheet, self._text, self._words, self._title = sheet, text, words, title
        self._size, self._small = size, max(6.5, size - 1)
        self._width = sheet.w - 2 * MARGIN
        self._line, self._under = size * POINT * _LINE, self._small * POINT * _LINE
        self._row = self._line + self._under + 2 * _PAD
        self._y, self._is_last_apart = 0.0, False

    @property
    def pages(self) -> int:
        """How many pages the list takes."""
        new = sum(run.is_new_page for run in self._runs)
        return 1 + new + self._is_last_apart

    def draw(self) -> None:
        """Draw every page."""
        self._page()
        self._sheet.start_section(self._sheet.clean(self._title))
        self._head()
        self._column_names()
        for run in self._runs:
            self._run(run)
        if self._is_last_apart:
            self._page()
        self._close()

    # Measures.

    @cached_property
    def _stops(self) -> list[StopText]:
        return self._text.stops()

    @cached_property
    def _facts(self) -> list[str]:
        return self._wrapped(self._text.facts(), self._size, self._width)

    @cached_property
    def _cautions(self) -> list[tuple[str, list[str]]]:
        """Each kind's name, and the lines of its cautions."""
        room = self._width - _SIGN - 4
        made = []
        for kind in self._text.kinds():
            if cautions := self._words.cautions.get(kind):
                made.append((kind, self._wrapped(cautions, self._size, room)))
        return made or [("", [_NO_CAUTION])]

    @cached_property
    def _defers(self) -> list[str]:
        return self._wrapped([_DEFERS], self._size, self._width - _SIGN - 4, bold=True)

    @property
    def _frame(self) -> float:
        lines = sum(len(lines) + bool(kind) for kind, lines in self._cautions)
        return (lines + len(self._defers)) * self._line + 3

    @property
    def _head_height(self) -> float:
        return 8 + len(self._facts) * self._line + self._frame + 4

    @property
    def _headings(self) -> float:
        return self._under + 0.8

    @property
    def _last(self) -> float:
        """The way home, and lines for what was seen on the way."""
        return 2 * self._line + 14

    def _lines_under(self, stop: StopText) -> list[str]:
        return self._wrapped([stop.under] if stop.under else [], self._small, self._width - 10)

    def _stop_head(self, stop: StopText) -> float:
        return self._under + 2 * self._line + 2.2 + len(self._lines_under(stop)) * self._under

    @cached_property
    def _runs(self) -> list[_Run]:
        """The stops as they stand on the pages."""
        left = self._sheet.room - self._head_height - self._headings
        most = self._sheet.room - self._line - self._headings
        runs = []
        for stop in self._stops:
            head = self._stop_head(stop)
            whole = head + len(stop.units) * self._row
            is_new = (whole if whole <= most else head + self._row) > left
            left = (most if is_new else left) - head
            runs.append(_Run(stop, [], is_new))
            for unit in stop.units:
                if self._row > left:
                    runs.append(_Run(stop, [], True, True))
                    left = most - self._line - _GAP
                runs[-1].units.append(unit)
                left -= self._row
            left -= _GAP
        self._is_last_apart = self._last > left
        return runs

    # Drawing.

    def _page(self) -> None:
        self._sheet.add_page()
        self._y = MARGIN

    def _head(self) -> None:
        sheet = self._sheet
        sheet.write_in(15, bold=True)
        sheet.text(MARGIN, self._y + 5, sheet.fit(sheet.clean(self._title), self._width))
        self._y += 8
        self._lines(self._facts, MARGIN, self._size)
        self._y += 1
        top, high = self._y, self._frame
        sheet.set_line_width(_HEAVY)
        sheet.rect(MARGIN, top, self._width, high)
        sheet.rect(MARGIN, top, _SIGN, high, "F")
        sheet.write_in(20, bold=True)
        sheet.set_text_color(255)
        sheet.text(MARGIN + _SIGN / 2 - sheet.width("!") / 2, top + high / 2 + 2.6, "!")
        sheet.set_text_color(0)
        self._y += 1.2
        for kind, lines in self._cautions:
            if kind:
                self._lines([f"Caution: {kind}"], MARGIN + _SIGN + 2, self._size, bold=True)
            self._lines(lines, MARGIN + _SIGN + 2, self._size)
        self._lines(self._defers, MARGIN + _SIGN + 2, self._size, bold=True)
        self._y = top + high + 3

    def _column_names(self) -> None:
        x = MARGIN
        for name, share in _COLUMNS:
            self._write(name, x + 0.6, self._y + self._under * 0.8, self._small)
            x += share * self._width
        self._y += self._headings

    def _run(self, run: _Run) -> None:
        if run.is_new_page:
            self._page()
            self._lines([_AGAIN], MARGIN, self._size, bold=True)
            self._column_names()
        if run.is_continued:
            told = f"Stop {run.stop.number}, {run.stop.name} (continued)"
            self._write(told, MARGIN, self._y + self._line * 0.8, self._size, bold=True)
            self._y += self._line + _GAP
        else:
            self._stop_name(run.stop)
        for unit in run.units:
            self._unit(unit)
        self._y += _GAP

    def _stop_name(self, stop: StopText) -> None:
        """The way there; number, name and time; room for the times it was; what else to know."""
        sheet = self._sheet
        self._write(f"↓ {stop.way}", MARGIN + 1, self._y + self._under * 0.8, self._small)
        self._y += self._under + 0.4
        high = self._line + 1.2
        sheet.rect(MARGIN, self._y, 7.5, high, "F")
        sheet.write_in(self._size, bold=True)
        sheet.set_text_color(255)
        number = str(stop.number)
        sheet.text(MARGIN + 3.75 - sheet.width(number) / 2, self._y + high * 0.72, number)
        sheet.set_text_color(0)
        base = self._y + high * 0.72
        sheet.write_in(self._size, bold=True)
        room = self._width - 10.5
        when = sheet.fit(sheet.clean(stop.when), room - 30)
        wide = sheet.width(when)
        sheet.text(sheet.w - MARGIN - wide, base, when)
        self._shrunk(stop.name, MARGIN + 9.5, base, room - wide - 3, self._size, bold=True)
        self._y += high
        self._lines(self._lines_under(stop), MARGIN + 9.5, self._small)
        self._blanks()

    def _blanks(self) -> None:
        """Lines to write on: when it was, who of the site was there, what was seen."""
        base, parts = self._y + self._line * 0.8, (("came", 18), ("left", 18), ("notes", 0))
        x, right = MARGIN + 9.5, self._sheet.w - MARGIN
        for name, room in parts:
            self._write(name, x, base, self._small)
            x += self._sheet.width(name) + 1.2
            end = x + room if room else right
            self._rule(x, base + 0.4, end)
            x = end + 3
        self._y += self._line + 0.6

    def _unit(self, unit: UnitText) -> None:
        """A row: two boxes to tick, the unit, and cells to write in."""
        sheet, x, side = self._sheet, MARGIN, min(4.6, self._row - 2)
        sheet.set_line_width(_THIN)
        for column, (_, share) in enumerate(_COLUMNS):
            wide = share * self._width
            sheet.rect(x, self._y, wide, self._row)
            if column < 2:
                sheet.set_line_width(0.4)
                top = self._y + (self._row - side) / 2
                sheet.rect(x + (wide - side) / 2, top, side, side)
                sheet.set_line_width(_THIN)
            elif column - 2 < len(unit.cells):
                self._cell(unit.cells[column - 2], x + 0.8, wide - 1.4, is_bold=column == 2)
            x += wide
        self._y += self._row

    def _cell(self, cell: tuple[str, str], x: float, room: float, *, is_bold: bool) -> None:
        """Two lines; a first one that is too long goes on in the second."""
        sheet, (first, second) = self._sheet, map(self._sheet.clean, cell)
        sheet.write_in(self._size, bold=is_bold)
        if sheet.width(first) > room:
            sheet.write_in(self._small, bold=is_bold)
            first, *rest = sheet.wrap(first, room)
            second = " ".join((*rest, second)).strip()
        sheet.text(x, self._y + _PAD + self._line * 0.78, first)
        low = self._y + _PAD + self._line + self._under * 0.78
        self._shrunk(second, x, low, room, self._small)

    def _shrunk(
        self, text: str, x: float, y: float, room: float, size: float, *, bold: bool = False
    ) -> None:
        """One line in smaller letters where it would not fit, cut where those would not do."""
        sheet, shown = self._sheet, self._sheet.clean(text)
        sheet.write_in(size, bold=bold)
        if shown and sheet.width(shown) > room:
            sheet.write_in(max(_LEAST, size * (room - 0.1) / sheet.width(shown)), bold=bold)
        sheet.text(x, y, sheet.fit(shown, room))

    def _close(self) -> None:
        """The way home, and lines to write on."""
        self._y += 0.6
        self._write(f"↓ {self._text.home()}", MARGIN + 1, self._y + self._line * 0.8, self._size)
        self._y += self._line + 6
        signed = "Technician's signature and date"
        self._write(signed, MARGIN, self._y, self._small)
        self._rule(MARGIN + self._sheet.width(signed) + 2, self._y + 0.4, self._sheet.w - MARGIN)

    def _rule(self, left: float, y: float, right: float) -> None:
        self._sheet.set_line_width(_THIN)
        self._sheet.line(left, y, right, y)

    def _lines(self, lines: Sequence[str], x: float, size: float, *, bold: bool = False) -> None:
        high = size * POINT * _LINE
        for line in lines:
            self._write(line, x, self._y + high * 0.8, size, bold=bold)
            self._y += high

    def _write(self, text: str, x: float, y: float, size: float, *, bold: bool = False) -> None:
        self._sheet.write_in(size, bold=bold)
        self._sheet.text(x, y, self._sheet.clean(text))

    def _wrapped(
        self, texts: Sequence[str], size: float, room: float, *, bold: bool = False
    ) -> list[str]:
        self._sheet.write_in(size, bold=bold)
        return [line for text in texts for line in self._sheet.wrap(text, room)]
