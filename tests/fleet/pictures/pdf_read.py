"""What is written on the pages of a PDF? Read by PDFium (pypdfium2); for tests only."""

from __future__ import annotations

from collections.abc import Iterator

import pypdfium2

__all__ = ["letters_outside", "page_sizes", "page_texts", "section_names"]


def page_texts(content: bytes) -> list[str]:
    """The text of every page, on one line each."""
    with pypdfium2.PdfDocument(content) as document:
        return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def page_sizes(content: bytes) -> set[tuple[int, int]]:
    """Widths and heights of the pages, whole points."""
    with pypdfium2.PdfDocument(content) as document:
        return {(round(page.get_width()), round(page.get_height())) for page in document}


def section_names(content: bytes) -> list[str]:
    """The PDF's outline, in its order."""
    with pypdfium2.PdfDocument(content) as document:
        return [mark.get_title() for mark in document.get_toc()]


def letters_outside(content: bytes, margin: float) -> Iterator[str]:
    """Letters nearer to an edge of their page than a margin in points."""
    with pypdfium2.PdfDocument(content) as document:
        for page in document:
            text, wide, high = page.get_textpage(), page.get_width(), page.get_height()
            for place in range(text.count_chars()):
                left, bottom, right, top = text.get_charbox(place)
                if left == right:
                    continue
                if min(left, bottom, wide - right, high - top) < margin:
                    yield text.get_text_range(place, 1)
