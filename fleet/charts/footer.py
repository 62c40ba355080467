"""What stands below the months: how a chart is filled, what to beware of, room for notes?

Where the months leave room, there in full; else in the footer as small as it must be.
"""

from __future__ import annotations

from collections.abc import Sequence

from fleet.charts.geometry import FOOTER, FORM_HEIGHT, FORM_WIDTH, STROKES, Division
from fleet.charts.ink import Ink, Line
from fleet.charts.words import STRIP, fill_words, reissue_words, warnings
from fleet.services.charts.facts import PrintedChart

__all__ = ["draw_below"]

_LEFT, _RIGHT = 11.5, 222.5
_LEAST_PANEL, _ABOVE = 19.0, 3.0
_COLUMN, _BETWEEN = 126.0, 7.0
_SIZES, _PITCH = (8, 7.2, 6.6, 6, 5.6, 5.2), 0.406
"""Letters of what stands below the months, in points; a line's height in mm to a point."""
_NOTE_LINE, _TITLE = 7.0, 4.2
_ELSEWHERE = "All cautions: on the card of this kind."


def draw_below(ink: Ink, printed: PrintedChart, parts: Division, code: str) -> None:
    """Draw all that stands below the months of a page."""
    top, bottom = parts.bottom + _ABOVE, FORM_HEIGHT - FOOTER
    ink.keep("strip", lambda: _strip(ink))
    fill, reissue = fill_words(printed.chart), reissue_words(printed)
    cautions = warnings(printed.chart)
    key = parts, tuple(fill), reissue, cautions, tuple(printed.differs)
    if bottom - top >= _LEAST_PANEL:
        ink.keep(("panel", *key), lambda: _panel(ink, printed, fill, reissue, top, bottom))
    else:
        ink.keep(("footer", *key), lambda: _footer(ink, fill, reissue, cautions))
    ink.right(248.0, 184.0, code, 6, bold=True)


def _strip(ink: Ink) -> None:
    ink.right(STROKES[0].x - 0.8, 189.2, "copy test", 5)
    for one in STROKES:
        ink.lines([(one.x, one.y, one.x, one.y + one.height)], one.width, one.black)


def _panel(
    ink: Ink,
    printed: PrintedChart,
    fill: Sequence[str],
    reissue: str,
    top: float,
    bottom: float,
) -> None:
    """How to fill on the left, cautions on the right, below them lines for notes."""
    told, defers = warnings(printed.chart)
    room, whole = bottom - top - _TITLE, _warned(told, len(told), defers)
    size = next(
        (size for size in _SIZES if _height(ink, fill, size) <= room >= _height(ink, whole, size)),
        next((size for size in _SIZES if _height(ink, fill, size) <= room), _SIZES[-1]),
    )
    fitting = next(
        n
        for n in range(len(told), -1, -1)
        if n == 0 or _height(ink, _warned(told, n, defers), size) <= room
    )
    low_left = _titled(ink, 0.0, top, "How to fill this chart", fill, size)
    right = _COLUMN + _BETWEEN
    low = _titled(ink, right, top, "Cautions", _warned(told, fitting, defers), size)
    _note_lines(ink, low_left, low, bottom - 0.5)
    differs = "; ".join(printed.differs)
    other = f"Other than on the chart printed before: {differs}." if differs else ""
    _foot(ink, [(reissue, True), (other, False), (STRIP, False)], 6.6, 2.6, 4)


def _warned(cautions: Sequence[str], count: int, defers: str) -> list[str]:
    """So many of the cautions, where the others are, and what comes before them all."""
    more = [] if count == len(cautions) else [_ELSEWHERE]
    return [*cautions[:count], *more, defers]


def _height(ink: Ink, told: Sequence[str], size: float) -> float:
    """How far down sentences go, each after a point."""
    return sum(len(ink.shaped(text, size, _COLUMN - 3, 100)) for text in told) * size * _PITCH


def _titled(ink: Ink, x: float, top: float, title: str, told: Sequence[str], size: float) -> float:
    """Write a title and sentences, each after a point; how far down they go."""
    ink.text(x, top + 2.2, title, 8.5, bold=True)
    y, pitch = top + _TITLE + 0.22 * size, size * _PITCH
    for text in told:
        ink.text(x, y, "•", size)
        for line in ink.shaped(text, size, _COLUMN - 3, 100):
            ink.text(x + 3, y, line, size)
            y += pitch
    return y - pitch + 1.0


def _note_lines(ink: Ink, left: float, right: float, bottom: float) -> None:
    """Dotted lines as far down as there is room, from the end of the left column on; beside the
    right one they are short.
    """
    lines: list[Line] = []
    y = left + _NOTE_LINE
    while y < bottom:
        start = 11.0 if not lines else 0.0
        lines.append((start, y, FORM_WIDTH if y > right + 3.0 else _COLUMN - 3.0, y))
        y += _NOTE_LINE
    if lines:
        ink.text(0.0, lines[0][1], "Notes", 8, bold=True)
    ink.lines(lines, 0.25, dots="0.5 2")


def _footer(
    ink: Ink, fill: Sequence[str], reissue: str, cautions: tuple[Sequence[str], str]
) -> None:
    """All of it in five small lines; of the cautions the gravest that find room."""
    size, pitch, most = 5.6, 2.12, 5
    width = _RIGHT - _LEFT
    above = ink.shaped(" ".join(fill), size, width, most - 1 - bool(reissue))
    left = most - len(above) - (len(ink.shaped(reissue, size, width, 2, True)) if reissue else 0)
    told, defers = cautions
    for count in range(len(told), -1, -1):
        below = " ".join([*(["CAUTION:"] if count else []), *_warned(told, count, defers)])
        if len(ink.shaped(below, size, width, most)) <= left:
            break
    with_strip = f"{below} {STRIP}"
    below = with_strip if len(ink.shaped(with_strip, size, width, most)) <= left else below
    _foot(ink, [(" ".join(fill), False), (reissue, True), (below, False)], size, pitch, most)


def _foot(ink: Ink, told: Sequence[tuple[str, bool]], size: float, pitch: float, most: int) -> None:
    """Write paragraphs, some of them bold, into the footer, the last line at its lower edge."""
    some = [one for one in told if one[0]]
    lines: list[tuple[str, bool]] = []
    for turn, (text, bold) in enumerate(some):
        left = most - len(lines) - (len(some) - turn - 1)
        shaped = ink.shaped(text, size, _RIGHT - _LEFT, max(1, left), bold)
        lines += [(line, bold) for line in shaped]
    y = FORM_HEIGHT - 0.5 - pitch * (len(lines) - 1)
    for turn, (line, bold) in enumerate(lines):
        ink.text(_LEFT, y + pitch * turn, line, size, bold)
