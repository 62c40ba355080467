"""How does a state's map tell what each county owes? By pattern first, so that black and white do.

The picture stands in a page that says the same in a table: it is hidden from screen readers, and
its links take no tab stop. It carries no style of its own; the page's sheet may colour its classes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, Protocol
from xml.sax.saxutils import escape, quoteattr

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


class _Shape(Protocol):
    @property
    def name(self) -> str: ...
    @property
    def path(self) -> str: ...


class _Shapes(Protocol):
    @property
    def width(self) -> int: ...
    @property
    def height(self) -> int: ...
    @property
    def counties(self) -> Sequence[_Shape]: ...


_WORDS: Final = {
    Standing.OWES: "owes annual service",
    Standing.SOON: "service is due",
    Standing.GAPS: "marks are missing",
    Standing.FINE: "in order",
    Standing.NONE: "no laboratory",
}
_PATTERNS: Final = {
    # Lines close together, dots, and thin crosses: told apart at 360 pixels and in print.
    Standing.OWES: '<path d="M-1 1l2-2M0 7l7-7M6 8l2-2" stroke="#96231b" stroke-width="2.2"/>',
    Standing.SOON: '<circle cx="3.5" cy="3.5" r="1.5" fill="#7a4a00"/>',
    Standing.GAPS: '<path d="M3.5 2v3M2 3.5h3" stroke="#4d575e" stroke-width=".8"/>',
}
_SIDE: Final = 7
_ENDINGS: Final = (" county", " parish", " borough", " census area", " municipality", " city")


def county_map(shapes: _Shapes, told: Mapping[str, CountyFacts]) -> str:
    """The map as inline SVG; told: by the county's name, with or without the word 'County'."""
    facts = {_plain(name): one for name, one in told.items()}
    lines = [
        f'<svg class="county-map" viewBox="0 0 {shapes.width} {shapes.height}"'
        ' aria-hidden="true" focusable="false">',
        _defs("map"),
        '<g stroke="#6b7278" stroke-width="1" stroke-linejoin="round">',
        *(_county(shape, facts.get(_plain(shape.name))) for shape in shapes.counties),
        "</g></svg>",
    ]
    return "".join(lines)


def map_key() -> Iterator[tuple[str, Standing, str]]:
    """For each standing a swatch as inline SVG, and its words."""
    for standing, words in _WORDS.items():
        name = f"key-{standing}"
        yield (
            '<svg class="swatch" width="28" height="18" viewBox="0 0 28 18" aria-hidden="true"'
            f' focusable="false">{_defs(name, standing)}<rect x=".5" y=".5" width="27" height="17"'
            f' fill="{_fill(name, standing)}" stroke="#6b7278"/></svg>',
            standing,
            words,
        )


def _defs(name: str, *only: Standing) -> str:
    """The patterns; a name of their own, since a page holds several pictures."""
    made = "".join(
        f'<pattern id="{name}-{standing}" width="{_SIDE}" height="{_SIDE}"'
        f' patternUnits="userSpaceOnUse"><rect width="{_SIDE}" height="{_SIDE}" fill="#fff"/>'
        f"{drawn}</pattern>"
        for standing, drawn in _PATTERNS.items()
        if not only or standing in only
    )
    return f"<defs>{made}</defs>" if made else ""


def _fill(name: str, standing: Standing) -> str:
    if standing in _PATTERNS:
        return f"url(#{name}-{standing})"
    return "#fff" if standing is Standing.FINE else "#eceae2"


def _county(shape: _Shape, facts: CountyFacts | None) -> str:
    standing = Standing.NONE if facts is None else facts.standing
    said = f"{shape.name}: {_WORDS[Standing.NONE]}" if facts is None else facts.title
    path = (
        f'<path class="county {standing}" d="{shape.path}" fill="{_fill("map", standing)}">'
        f"<title>{escape(said)}</title></path>"
    )
    if facts is None or not facts.href:
        return path
    return f'<a href={quoteattr(facts.href)} tabindex="-1">{path}</a>'


def _plain(name: str) -> str:
    """A county's name as it is compared."""
    plain = name.casefold().strip()
    for ending in _ENDINGS:
        plain = plain.removesuffix(ending)
    return plain
