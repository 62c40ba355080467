"""How is it told which units have no current chart? By what is to be done, site by site."""

from __future__ import annotations

import shlex
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.console import RenderableType

from fleet.cli.grids import command, fitted, grid, heading, printed
from fleet.services.charts.status import MissingChart
from notifications.digests.words import counted, county, joined

__all__ = ["missing_table"]

_INDENT = 4
_NAMED = 8
"""Of more units the whole site is printed anew."""


def missing_table(rows: Sequence[MissingChart], year: int) -> str:
    """The table form of `chart --status`; year: that of the charts where there is no row."""
    if not rows:
        return f"Every unit has its chart of {year} in hand."
    counts = Counter(row.reason for row in rows)
    told = joined([f"{count:,} {reason}" for reason, count in counts.most_common()])
    parts: list[RenderableType] = [heading(f"{counted(len(rows), 'chart')} to print: {told}")]
    lines = [_line(row) for row in rows]
    widths = fitted(lines, folding=[3, 2, 0])
    for (site, of_county, region), some in groupby(rows, key=lambda row: row[:3]):
        own = list(some)
        place = ", ".join(filter(None, (site, county(of_county), region)))
        parts += ["", heading(place), grid([_line(row) for row in own], widths=widths)]
        parts += [command(words, _INDENT) for words in _commands(site, own)]
    return printed(*parts)


def _commands(site: str, rows: Sequence[MissingChart]) -> Iterator[str]:
    """What prints them: unit by unit, so that charts that are right stay where they hang."""
    for year in sorted({row.year for row in rows}):
        numbers = [shlex.quote(row.property_number) for row in rows if row.year == year]
        units = f"{' '.join(numbers)} " if len(numbers) <= _NAMED else ""
        yield f"dueward chart {units}--site {shlex.quote(site)} --year {year}"


def _line(row: MissingChart) -> list[str]:
    return [row.property_number, f"{row.year}", row.reason, row.differs or ""]
