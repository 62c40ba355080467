"""How does the map of the state tell what each county owes? Beside a table that says the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

from markupsafe import Markup

from fleet.files.county_shapes import county_shapes
from fleet.pictures.county_map import CountyFacts, Standing, county_map, map_key
from fleet.web.words import place

if TYPE_CHECKING:
    from fleet.services.county_lines import CountyLine

__all__ = ["CountyPicture", "county_picture"]


@dataclass(frozen=True, slots=True)
class CountyPicture:
    """The map as SVG, and its key: a swatch, words and a count each."""

    svg: Markup
    key: Sequence[tuple[Markup, str, int]]


def county_picture(
    country: str, subdivision: str, lines: Iterable[CountyLine]
) -> CountyPicture | None:
    """The map of a state with some of its counties told; None where no map of it is there."""
    shapes = county_shapes(country, subdivision)
    if shapes is None:
        return None
    told = {line.county: _told(line) for line in lines}
    counts = Counter(facts.standing for facts in told.values())
    counts[Standing.NONE] = max(0, len(shapes.counties) - len(told))
    key = [
        # Beyond the visitor's own regions nothing is told: those counties are grey too.
        (Markup(swatch), words, counts[standing])  # noqa: S704 - drawn by us
        for swatch, standing, words in map_key()
    ]
    return CountyPicture(Markup(county_map(shapes, told)), key)  # noqa: S704 - drawn by us


def _told(line: CountyLine) -> CountyFacts:
    parts = []
    if line.owed:
        parts.append(f"{len(line.owed)} overdue, the longest by {line.longest} days")
    if line.soon:
        parts.append(f"{len(line.soon)} due")
    if line.gaps + line.gaps_before:
        parts.append(f"{line.gaps + line.gaps_before} gaps")
    if line.owed:
        standing = Standing.OWES
    elif line.soon:
        standing = Standing.SOON
    else:
        standing = Standing.GAPS if line.gaps + line.gaps_before else Standing.FINE
    href = _path_of(line)
    words = "; ".join(parts) or "nothing is owed"
    return CountyFacts(line.county, standing, href, f"{line.county}: {words}")


def _path_of(line: CountyLine) -> str:
    """The page of a county's one site, else its line in the table."""
    if len(line.sites) == 1:
        return f"/sites/{quote(line.sites[0].site)}"
    return f"#county-{place(line.county)}"
