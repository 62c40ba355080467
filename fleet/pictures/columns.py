"""How wide is a text in a terminal, and how is it cut and filled up to a column?"""

from __future__ import annotations

import unicodedata

__all__ = ["cells", "cut", "padded"]


def cells(text: str) -> int:
    """How many columns a text takes (Unicode Standard Annex 11: wide signs take two)."""
    return sum(_cells(char) for char in text)


def cut(text: str, width: int) -> str:
    """The text on one line in at most so many columns, '…' where cut, '?' for what is no letter."""
    clean = "".join(char if char.isprintable() else "?" for char in text)
    if cells(clean) <= width:
        return clean
    kept, room = "", width - 1
    for char in clean:
        if _cells(char) > room:
            break
        kept, room = kept + char, room - _cells(char)
    return kept.rstrip() + "…"


def padded(text: str, width: int) -> str:
    """The text in exactly so many columns, blanks after it."""
    shown = cut(text, width)
    return shown + " " * (width - cells(shown))


def _cells(char: str) -> int:
    if unicodedata.combining(char):
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1
