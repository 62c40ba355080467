"""What do the codes in a page's head say, and is a code that was read one of ours?

Thirteen characters: the layout, the print's number (8), the page (1 to 9, then A, B, C), and three
that check the ten before them. As a symbol it is a QR code of version 1 and level Q (ISO/IEC 18004:
room for 16 such characters, and about a quarter of it may be lost).
"""

from __future__ import annotations

import hashlib
import re
import string
from typing import NamedTuple

import segno

__all__ = ["CHANCE", "Code", "code_text", "read_code", "symbol"]

_DIGITS = string.digits + string.ascii_uppercase
_PAGES = "123456789ABC"
_CHECK = 3
CHANCE = len(_DIGITS) ** -_CHECK
"""How probable it is that ten wrong characters pass the check: 1 in 46,656."""
_CODE = re.compile(rf"[0-9A-Z]{{9}}[{_PAGES}][0-9A-Z]{{{_CHECK}}}")
_MASK = 2
"""Of the eight patterns that a symbol may be laid over with always the same, so that the same code
is the same picture whatever version of the library chose."""


class Code(NamedTuple):
    """What a page's code says."""

    layout: str
    number: str
    page: int


def code_text(layout: str, number: str, page: int) -> str:
    """The thirteen characters of a page; layout has one character, number eight of 0-9 and A-Z."""
    content = f"{layout}{number}{_PAGES[page - 1]}"
    return content + _check_of(content)


def read_code(text: str) -> Code | None:
    """What a code says; None where it is none of ours, or a character of it is wrong."""
    if not _CODE.fullmatch(text) or _check_of(text[:10]) != text[10:]:
        return None
    return Code(text[0], text[1:9], _PAGES.index(text[9]) + 1)


def symbol(code: str) -> list[list[bool]]:
    """The code's 21 x 21 modules without the white round them, row by row; True is black."""
    made = segno.make_qr(
        code, error="q", version=1, mode="alphanumeric", mask=_MASK, boost_error=False
    )
    return [[bool(module) for module in row] for row in made.matrix]


def _check_of(content: str) -> str:
    """SHA-256 of the characters, its remainder by 36^3 in base 36."""
    left = int.from_bytes(hashlib.sha256(content.encode()).digest(), "big") % len(_DIGITS) ** _CHECK
    digits = []
    for _ in range(_CHECK):
        left, digit = divmod(left, len(_DIGITS))
        digits.append(_DIGITS[digit])
    return "".join(reversed(digits))
