"""Which colours and dashes tell lines apart, also in grey and for eyes that see fewer colours?

The colours are those of M. Okabe and K. Ito, "Color Universal Design (CUD): How to make figures and
presentations that are friendly to colorblind people" (2002, revised 2008), without their yellow,
which is too light for a line on white paper. What a colour says is always said a second time, by
dashes, a number or a letter.
"""

from __future__ import annotations

from fleet.pictures.drawing import Stroke

__all__ = ["FAINT", "OKABE_ITO", "PALE", "SOFT", "dashes", "ink_on", "line_of"]

OKABE_ITO = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9", "#000000")
"""Blue, vermillion, bluish green, reddish purple, orange, sky blue, black."""
PALE, FAINT, SOFT = "#eeeeee", "#c8c8c8", "#555555"
"""Greys: of a day off, of a line in the background, of words that are read second."""
_DASHES: tuple[tuple[float, ...], ...] = ((), (2.4, 0.9), (0.7, 0.7), (2.6, 0.7, 0.6, 0.7))


def dashes(number: int) -> tuple[float, ...]:
    """The dashes of the n-th thing, counted from 0."""
    return _DASHES[number % len(_DASHES)]


def line_of(number: int, width: float) -> Stroke:
    """How the n-th line is drawn, counted from 0; 28 are all different.

    The dashes change with each, so that neighbours differ without their colours too.
    """
    turn = number // len(_DASHES)
    return Stroke(
        colour=OKABE_ITO[(number + turn // len(OKABE_ITO)) % len(OKABE_ITO)],
        width=width,
        dashes=dashes(number),
    )


def ink_on(colour: str) -> str:
    """Black or white, whichever stands out more on a colour (WCAG 2.2, relative luminance)."""
    light = 0.0
    for share, start in ((0.2126, 1), (0.7152, 3), (0.0722, 5)):
        part = int(colour[start : start + 2], 16) / 255
        light += share * (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4)
    return "#000000" if (light + 0.05) ** 2 > 1.05 * 0.05 else "#ffffff"
