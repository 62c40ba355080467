"""How do letters stand on paper? The fonts, what they can say, and how wide it is.

Lengths are millimetres, sizes of letters points. Black on white: what is told must survive a copy.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Iterator
from importlib import resources
from typing import Literal

from fpdf import FPDF
from fpdf.fonts import TTFFont

__all__ = ["POINT", "Paper"]

POINT = 25.4 / 72
"""A point, in millimetres."""
_FAMILY = "dejavu"


class Paper(FPDF):
    """A document with its letters embedded, without head, foot or page breaks of its own.

    `replaced` counts the characters that the font has no sign for and that stand as '?'.
    """

    def __init__(
        self,
        orientation: Literal["landscape", "portrait"],
        size: Literal["letter", "a4"],
        made_at: dt.datetime,
        language: str = "en",
    ) -> None:
        super().__init__(orientation=orientation, unit="mm", format=size)
        logging.getLogger("fontTools.subset").setLevel(logging.ERROR)
        folder = resources.files("fleet.files").joinpath("fonts")
        for style, name in (("", "DejaVuSansCondensed"), ("B", "DejaVuSansCondensed-Bold")):
            with resources.as_file(folder.joinpath(f"{name}.ttf")) as path:
                self.add_font(_FAMILY, style, path)
        self.set_auto_page_break(False)
        self.set_creation_date(made_at)
        self.set_lang(language)
        self.set_fill_color(0)
        self.replaced = 0
        self._widths: dict[tuple[str, str], float] = {}

    def shut(self) -> None:
        """Let go of the font files, also where the document was not written to its end."""
        for font in self.fonts.values():
            if isinstance(font, TTFFont):
                font.close()

    def clean(self, text: str) -> str:
        """The text with '?' for every character that the font lacks, on one line."""
        known = self._regular.cmap
        if text.isascii() and text.isprintable():
            return text
        made = []
        for char in text:
            if char.isspace():
                made.append(" ")
            elif ord(char) in known:
                made.append(char)
            else:
                self.replaced += 1
                made.append("?")
        return "".join(made)

    @property
    def _regular(self) -> TTFFont:
        font = self.fonts[_FAMILY]
        assert isinstance(font, TTFFont)  # noqa: S101 - as it was added
        return font

    def write_in(self, size: float, *, bold: bool = False) -> None:
        """Choose the letters of what is written next, in points."""
        style = "B" if bold else ""
        if (self.font_style, self.font_size_pt) != (style, size):
            self.set_font(_FAMILY, style, size)

    def width(self, text: str) -> float:
        """How wide a clean text is in the present letters, in millimetres."""
        key = self.font_style, text
        if key not in self._widths:
            font = self.current_font
            assert isinstance(font, TTFFont)  # noqa: S101 - there is no other
            self._widths[key] = font.get_text_width(text, 1.0, None)[1]
        return self._widths[key] * self.font_size_pt * POINT

    def fit(self, text: str, width: float) -> str:
        """A clean text cut to a width, with '…' where something is cut off."""
        if self.width(text) <= width:
            return text
        low, high = 0, len(text)
        while low < high:
            middle = (low + high + 1) // 2
            low, high = (
                (middle, high) if self.width(text[:middle] + "…") <= width else (low, middle - 1)
            )
        return text[:low].rstrip() + "…"

    def wrap(self, text: str, width: float) -> list[str]:
        """Break a text into clean lines of at most a width; words that are too long are broken."""
        lines: list[str] = []
        for paragraph in text.split("\n"):
            line = ""
            for word in self.clean(paragraph).split(" "):
                joined = f"{line} {word}" if line else word
                if self.width(joined) <= width:
                    line = joined
                    continue
                if line:
                    lines.append(line)
                *whole, line = self._broken(word, width)
                lines += whole
            lines.append(line)
        return lines

    def _broken(self, word: str, width: float) -> Iterator[str]:
        while self.width(word) > width:
            size = max(1, len(self.fit(word, width)) - 1)
            yield word[:size]
            word = word[size:]
        yield word
