"""What is written in a part of a printed page, read by PDFium; for tests only."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, contextmanager

import pypdfium2

__all__ = ["PageText", "page_text"]

_POINTS = 72 / 25.4
_LEFT, _TOP = 10.2, 12.95
"""Where a box of 259 x 190 mm in the middle of a letter (279.4 x 215.9 mm) begins."""


class PageText:
    """The text of one letter page, by places in mm from the box's top left corner."""

    def __init__(self, page: pypdfium2.PdfPage, text: pypdfium2.PdfTextPage) -> None:
        self._height, self._text = page.get_height(), text

    def within(self, x: float, y: float, w: float, h: float) -> str:
        """What is written in a rectangle."""
        left, right = ((n + _LEFT) * _POINTS for n in (x, x + w))
        top, bottom = (self._height - (n + _TOP) * _POINTS for n in (y, y + h))
        return str(self._text.get_text_bounded(left, bottom, right, top)).strip()


@contextmanager
def page_text(pdf: bytes, page: int) -> Iterator[PageText]:
    """A page of a PDF on letter, counted from 1."""
    with closing(pypdfium2.PdfDocument(pdf)) as document:
        shown = document[page - 1]
        with closing(shown.get_textpage()) as text:
            yield PageText(shown, text)
