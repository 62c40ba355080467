"""How does a picture stand on a page of a PDF? The same marks as in SVG, in embedded letters."""

from __future__ import annotations

from collections.abc import Iterable

from fpdf.enums import RenderStyle

from fleet.files.paper import Paper
from fleet.pictures.drawing import POINT, Box, Dot, Mark, Path, Stroke, Words, flat

__all__ = ["draw"]


def draw(sheet: Paper, marks: Iterable[Mark]) -> None:
    """Draw marks on the present page; afterwards the pen is black and whole again."""
    for mark in flat(marks):
        match mark:
            case Path():
                _stroke(sheet, mark.stroke)
                sheet.polyline(mark.points)
            case Box():
                place = mark.place
                style = _style(sheet, mark.fill, mark.stroke)
                sheet.rect(place.left, place.top, place.width, place.height, style)
            case Dot():
                style = _style(sheet, mark.fill, mark.stroke)
                sheet.circle(mark.centre.x, mark.centre.y, mark.radius, style)
            case Words():
                _words(sheet, mark)
    _dash(sheet, ())
    sheet.set_draw_color(0)
    sheet.set_fill_color(0)
    sheet.set_text_color(0)


def _words(sheet: Paper, words: Words) -> None:
    text = sheet.clean(words.text)
    if not text:
        return
    sheet.write_in(words.size, bold=words.is_bold)
    wide = sheet.width(text)
    left = words.x - {"start": 0.0, "middle": wide / 2, "end": wide}[words.align]
    if words.is_clear:
        high = sheet.font_size * 0.8
        sheet.set_fill_color(255)
        sheet.rect(left, words.y - high, wide, high * 1.15, "F")
    sheet.set_text_color(*_rgb(words.colour))
    sheet.text(left, words.y, text)


def _style(sheet: Paper, fill: str | None, stroke: Stroke | None) -> RenderStyle:
    if fill:
        sheet.set_fill_color(*_rgb(fill))
    if stroke:
        _stroke(sheet, stroke)
        return RenderStyle.DF if fill else RenderStyle.D
    return RenderStyle.F


def _stroke(sheet: Paper, stroke: Stroke) -> None:
    sheet.set_draw_color(*_rgb(stroke.colour))
    sheet.set_line_width(stroke.width)
    _dash(sheet, stroke.dashes)


def _dash(sheet: Paper, lengths: tuple[float, ...]) -> None:
    """Dashes of any pattern, cut straight (ISO 32000-1, 8.4.3.3 and 8.4.3.6)."""
    points = " ".join(f"{length / POINT:.2f}" for length in lengths)
    sheet._out(f"0 J [{points}] 0 d")


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
