"""How does a state's map tell what each county owes? By pattern first, so that black and white do.

The picture stands in a page that says the same in a table: it is hidden from screen readers, and
its links take no tab stop. It carries no style of its own; the page's sheet may colour its classes.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from fleet.files.county_shapes import CountyShape, StateShapes

__all__ = ["CountyFacts", "Standing", "county_map", "map_key"]


class Standing(StrEnum):
    """What a county's pattern says, the gravest first."""

    OWES = "owes"
    SOON = "soon"
    GAPS = "gaps"
    FINE = "fine"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class CountyFacts:
    """What is told of one county: where its link leads, and a sentence for whoever points at it."""

    county: str
    standing: Standing
    href: str
    title: str


_ORDER: Final = list(Standing)
_WORDS: Final = {
    Standing.OWES: "owes annual service",
    Standing.SOON: "service is due",
    Standing.GAPS: "marks are missing",
    Standing.FINE: "in order",
    Standing.NONE: "nothing told",
}
_PATTERNS: Final = {
    # A tile's side and what is drawn on it: dense lines, dots, sparse crosses. They must be told
    # apart without colour on a map 360 pixels wide, where everything has half its size.
    Standing.OWES: (7, '<path d="M-1 1l2-2M0 7l7-7M6 8l2-2" stroke="#96231b" stroke-width="2.2"/>'),
    Standing.SOON: (8, '<circle cx="4" cy="4" r="2.2" fill="#7a4a00"/>'),
    Standing.GAPS: (14, '<path d="M7 3.5v7M3.5 7h7" stroke="#4d575e" stroke-width="1.2"/>'),
}
_ENDINGS: Final = (" county", " parish", " borough", " census area", " municipality")


def county_map(shapes: StateShapes, told: Mapping[str, CountyFacts]) -> str:
    """The map as inline SVG; told: by the county's name, with or without the word 'County'.

    Of two that name the same county the graver is shown; a name that the state has not is left out.
    """
    names = {_plain(shape.name) for shape in shapes.counties}
    gravest_last = sorted(told.items(), key=lambda item: -_ORDER.index(item[1].standing))
    facts = {_found(name, names): one for name, one in gravest_last}
    lines = [
        f'<svg class="county-map" viewBox="0 0 {shapes.width} {shapes.height}"'
        ' aria-hidden="true" focusable="false">',
        _defs("map"),
        '<g stroke="#6b7278" stroke-width="1" stroke-linejoin="round">',
        *(_county(shape, facts.get(_plain(shape.name))) for shape in shapes.counties),
        "</g></svg>",
    ]
    return "".join(lines)


def map_key() -> list[tuple[str, Standing, str]]:
    """For each standing, the gravest first, a swatch as inline SVG and its words."""
    return [(_swatch(standing), standing, words) for standing, words in _WORDS.items()]


def _swatch(standing: Standing) -> str:
    return (
        '<svg class="swatch" width="28" height="18" viewBox="0 0 28 18" aria-hidden="true"'
        f' focusable="false">{_defs("key", standing)}<rect x=".5" y=".5" width="27" height="17"'
        f' fill="{_fill("key", standing)}" stroke="#6b7278"/></svg>'
    )


def _defs(name: str, *only: Standing) -> str:
    """The patterns; a name of their own, since a page holds several pictures."""
    made = "".join(
        f'<pattern id="{name}-{standing}" width="{side}" height="{side}"'
        f' patternUnits="userSpaceOnUse"><rect width="{side}" height="{side}" fill="#fff"/>'
        f"{drawn}</pattern>"
        for standing, (side, drawn) in _PATTERNS.items()
        if not only or standing in only
    )
    return f"<defs>{made}</defs>" if made else ""


def _fill(name: str, standing: Standing) -> str:
    if standing in _PATTERNS:
        return f"url(#{name}-{standing})"
    return "#fff" if standing is Standing.FINE else "#dddbd3"


def _county(shape: CountyShape, facts: CountyFacts | None) -> str:
    standing = Standing.NONE if facts is None else facts.standing
    said = f"{shape.name}: {_WORDS[Standing.NONE]}" if facts is None else facts.title
    path = (
        f'<path class="county {standing}" d="{shape.path}" fill="{_fill("map", standing)}">'
        f"<title>{escape(said)}</title></path>"
    )
    if facts is None or not facts.href:
        return path
    return f'<a href={quoteattr(facts.href)} tabindex="-1">{path}</a>'


def _found(name: str, names: Collection[str]) -> str:
    """The one of a state's plain names that is meant; 'city' goes where none is called so."""
    plain = _plain(name)
    return plain if plain in names else plain.removesuffix(" city")


def _plain(name: str) -> str:
    """A county's name as it is compared."""
    plain = name.casefold().strip()
    for ending in _ENDINGS:
        plain = plain.removesuffix(ending)
    return plain
