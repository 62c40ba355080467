"""How do strokes and letters get onto the pages of a PDF, thousands of pages at a time?

Everything is told in millimetres from the top left corner of the box; here alone it becomes the
operators of a content stream (ISO 32000-1, 8.5 and 9.4). What stands alike on many pages is drawn
once and kept under a key.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable

from fpdf.enums import PDFResourceType
from fpdf.fonts import TTFFont

from fleet.charts.geometry import FORM_HEIGHT, origin
from fleet.files.paper import Paper

__all__ = ["POINTS", "Ink", "Line", "diagonal"]

POINTS = 72 / 25.4
"""Points in a millimetre."""
Line = tuple[float, float, float, float]
"""From one point to another: x, y, x, y."""
_INSET = 1.0


class Ink:
    """Draws on the pages of one document."""

    def __init__(self, paper: Paper, size: str) -> None:
        self.paper = paper
        left, top = origin(size)
        self._left = f"{left * POINTS:.2f}"
        self._up = f"{paper.h_pt - (top + FORM_HEIGHT) * POINTS:.2f}"
        self._fonts: dict[bool, TTFFont] = {}
        self._kept: dict[Hashable, str] = {}
        self._encoded: dict[tuple[str, bool], str] = {}
        self._shaped: dict[tuple[str, float, bool, float, int], list[str]] = {}
        self._widths: dict[tuple[str, bool], float] = {}
        self._parts: list[str] = []

    def begin_page(self) -> None:
        """Begin a page."""
        paper = self.paper
        paper.add_page()
        if not self._fonts:
            self._fonts = {bold: self._font(bold) for bold in (False, True)}
        for font in self._fonts.values():
            paper._resource_catalog.add(PDFResourceType.FONT, font.i, paper.page)
        self._parts = [f"q 1 0 0 1 {self._left} {self._up} cm 0 G 0 g 0 J"]

    def end_page(self) -> None:
        """Write what was drawn since the page began."""
        self._parts.append("Q")
        self.paper._out("\n".join(self._parts))
        self._parts = []

    def keep(self, key: Hashable, draw: Callable[[], None]) -> None:
        """Draw what is known by a key, and the next time the same again."""
        if key not in self._kept:
            before, self._parts = self._parts, []
            draw()
            self._kept[key] = "\n".join(self._parts)
            self._parts = before
        self._parts.append(self._kept[key])

    def lines(
        self, lines: Iterable[Line], width: float, black: float = 1.0, dots: str = ""
    ) -> None:
        """Draw lines of one width; dots: lengths of strokes and gaps in points, as '0.5 1.5'."""
        path = " ".join(
            f"{x * POINTS:.2f} {_up(y)} m {to_x * POINTS:.2f} {_up(to_y)} l"
            for x, y, to_x, to_y in lines
        )
        if path:
            state = f"{width * POINTS:.3f} w"
            if dots or black != 1.0:
                state = f"q {1 - black:.2f} G [{dots}] 0 d {state}"
            self._parts.append(f"{state} {path} S" + (" Q" if state.startswith("q") else ""))

    def rectangle(self, x: float, y: float, w: float, h: float, width: float) -> None:
        """Draw the outline of a rectangle."""
        sizes = f"{x * POINTS:.2f} {_up(y + h)} {w * POINTS:.2f} {h * POINTS:.2f}"
        self._parts.append(f"{width * POINTS:.3f} w {sizes} re S")

    def modules(self, rows: list[list[bool]], x: float, y: float, size: float) -> None:
        """Fill squares of a size in mm, row by row; True is black. Neighbours are one rectangle."""
        side = size * POINTS
        parts = [f"q 1 0 0 1 {x * POINTS:.3f} {(FORM_HEIGHT - y) * POINTS:.3f} cm"]
        for row, squares in enumerate(rows):
            start = None
            for column, is_black in enumerate([*squares, False]):
                if is_black and start is None:
                    start = column
                elif not is_black and start is not None:
                    width = (column - start) * side
                    parts.append(f"{start * side:.3f} {-(row + 1) * side:.3f}")
                    parts.append(f"{width:.3f} {side:.3f} re")
                    start = None
        parts.append("f Q")
        self._parts.append(" ".join(parts))

    def text(self, x: float, y: float, text: str, size: float, bold: bool = False) -> None:
        """Write a clean text from a point on its base line, in points."""
        if text:
            self._parts.append(
                f"BT /F{self._fonts[bold].i} {size:g} Tf {x * POINTS:.2f} {_up(y)} Td"
                f" {self._glyphs(text, bold)} ET"
            )

    def right(self, x: float, y: float, text: str, size: float, bold: bool = False) -> None:
        """Write a clean text up to a point."""
        self.text(x - self.width(text, size, bold), y, text, size, bold)

    def centred(
        self, x: float, w: float, y: float, text: str, size: float, bold: bool = False
    ) -> None:
        """Write a clean text in the middle of a width."""
        self.text(x + (w - self.width(text, size, bold)) / 2, y, text, size, bold)

    def width(self, text: str, size: float, bold: bool = False) -> float:
        """How wide a clean text is."""
        key = text, bold
        if key not in self._widths:
            self.paper.write_in(100, bold=bold)
            self._widths[key] = self.paper.width(text) / 100
        return self._widths[key] * size

    def shaped(
        self, text: str, size: float, width: float, most: int, bold: bool = False
    ) -> list[str]:
        """A text as at most so many clean lines of a width, the last cut with '…' if need be."""
        key = text, size, bold, width, most
        if key not in self._shaped:
            self.paper.write_in(size, bold=bold)
            lines = self.paper.wrap(text, width)
            if len(lines) > most:
                rest = self.paper.fit(" ".join(lines[most - 1 :]), width)
                lines = [*lines[: most - 1], rest]
            self._shaped[key] = lines
        return self._shaped[key]

    def largest(
        self, text: str, sizes: Iterable[float], width: float, most: int, bold: bool = False
    ) -> tuple[float, list[str]]:
        """The first of some sizes in which a text fits into so many lines, else the last, cut."""
        size, lines = 0.0, [""]
        for size in sizes:
            lines = self.shaped(text, size, width, most + 1, bold)
            if len(lines) <= most:
                return size, lines
        return size, self.shaped(text, size, width, most, bold)

    def _glyphs(self, text: str, bold: bool) -> str:
        key = text, bold
        if key not in self._encoded:
            self._encoded[key] = self._fonts[bold].encode_text(text)
        return self._encoded[key]

    def _font(self, bold: bool) -> TTFFont:
        self.paper.write_in(10, bold=bold)
        font = self.paper.current_font
        assert isinstance(font, TTFFont)  # noqa: S101 - there is no other
        return font


def diagonal(x: float, y: float, w: float, h: float) -> Line:
    """The stroke through a cell in which nothing is to be done, 1 mm inside it."""
    return x + _INSET, y + h - _INSET, x + w - _INSET, y + _INSET


def _up(y: float) -> str:
    return f"{(FORM_HEIGHT - y) * POINTS:.2f}"
