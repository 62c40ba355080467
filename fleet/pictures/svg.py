"""How does a picture become SVG? Escaped, without scripts, and in fonts that every system has."""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

from fleet.pictures.drawing import POINT, Box, Dot, Group, Mark, Path, Picture, Stroke, Words

__all__ = ["svg"]

_FONT = "sans-serif"


def svg(picture: Picture) -> str:
    """The picture as an SVG 1.1 document; the same text for the same picture."""
    width, height = _number(picture.width), _number(picture.height)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm"'
        f' viewBox="0 0 {width} {height}" font-family="{_FONT}" role="img">',
        f"<title>{_text(picture.title)}</title>",
        f"<desc>{_text(picture.told)}</desc>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
    ]
    for mark in picture.marks:
        lines += _drawn(mark)
    return "\n".join([*lines, "</svg>", ""])


def _drawn(mark: Mark) -> Iterator[str]:
    match mark:
        case Group():
            yield f"<g class={_quoted(mark.sort)}>"
            if mark.name:
                yield f"<title>{_text(mark.name)}</title>"
            for inner in mark.marks:
                yield from _drawn(inner)
            yield "</g>"
        case Path():
            yield _path(mark)
        case Box():
            x, y = _number(mark.place.left), _number(mark.place.top)
            size = f'width="{_number(mark.place.width)}" height="{_number(mark.place.height)}"'
            yield f'<rect x="{x}" y="{y}" {size}{_paint(mark.fill, mark.stroke)}/>'
        case Dot():
            place = f'cx="{_number(mark.centre.x)}" cy="{_number(mark.centre.y)}"'
            radius = _number(mark.radius)
            yield f'<circle {place} r="{radius}"{_paint(mark.fill, mark.stroke)}/>'
        case Words():
            yield _words(mark)


def _path(path: Path) -> str:
    points = " ".join(f"{_number(x)},{_number(y)}" for x, y in path.points)
    ends = ' stroke-linejoin="round" stroke-linecap="butt"'
    return f'<polyline points="{points}"{_paint(None, path.stroke)}{ends}/>'


def _words(words: Words) -> str:
    weight = ' font-weight="bold"' if words.is_bold else ""
    anchor = "" if words.align == "start" else f' text-anchor="{words.align}"'
    place = f'x="{_number(words.x)}" y="{_number(words.y)}"'
    size = _number(words.size * POINT)
    if words.is_clear:
        weight += ' stroke="#ffffff" stroke-width="0.6" paint-order="stroke"'
    return (
        f'<text {place} font-size="{size}" fill="{words.colour}"{weight}{anchor}>'
        f"{_text(words.text)}</text>"
    )


def _paint(fill: str | None, stroke: Stroke | None) -> str:
    made = f' fill="{fill or "none"}"'
    if stroke is not None:
        made += f' stroke="{stroke.colour}" stroke-width="{_number(stroke.width)}"'
        if stroke.dashes:
            dashes = " ".join(_number(length) for length in stroke.dashes)
            made += f' stroke-dasharray="{dashes}"'
    return made


def _number(value: float) -> str:
    """To a hundredth of a millimetre, as short as it can be written."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _text(text: str) -> str:
    """Escaped, with '?' for what XML 1.0 (section 2.2) has no place for."""
    return escape("".join(char if _is_xml(char) else "?" for char in text))


def _quoted(text: str) -> str:
    return quoteattr(_text(text))


def _is_xml(char: str) -> bool:
    is_plain = char in "\t\n\r" or " " <= char <= "\ud7ff" or "\ue000" <= char <= "\ufffd"
    return is_plain or char >= "\U00010000"
