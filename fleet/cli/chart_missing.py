"""How is it told which units have no current chart? By what is to be done, site by site."""

from __future__ import annotations

import shlex
from collections import Counter
from collections.abc import Sequence
from itertools import groupby

from rich.console import RenderableType

from fleet.cli.chart_options import ChartOptions
from fleet.cli.grids import command, fitted, grid, heading, printed
from fleet.services.charts.status import MissingChart
from notifications.digests.words import counted, county, joined

__all__ = ["in_hand", "missing_table"]

_INDENT = 4


def in_hand(year: int) -> str:
    """What is said where no chart is missing; year: that of the charts."""
    return f"Every unit has its chart of {year} in hand."


def missing_table(rows: Sequence[MissingChart], options: ChartOptions, year: int) -> str:
    """The table form of `chart --status`; year: that of the charts where there is no row."""
    if not rows:
        return in_hand(year)
    counts = Counter(row.reason for row in rows)
    told = joined([f"{count:,} {reason}" for reason, count in counts.most_common()])
    parts: list[RenderableType] = [heading(f"{counted(len(rows), 'chart')} to print: {told}")]
    if len({row.site for row in rows}) > 1:
        parts.append(command(f"{_command(options, _places(options))} --out charts", _INDENT))
    lines = [_line(row) for row in rows]
    widths = fitted(lines, folding=[3, 2, 0])
    for (site, of_county, region), some in groupby(rows, key=lambda row: row[:3]):
        own = list(some)
        place = ", ".join(filter(None, (site, county(of_county), region)))
        parts += ["", heading(place), grid([_line(row) for row in own], widths=widths)]
        parts.append(command(_command_of(site, own, options), _INDENT))
    return printed(*parts)


def _command_of(site: str, rows: Sequence[MissingChart], options: ChartOptions) -> str:
    """What prints the missing charts of a site, and no other: those that are right hang on."""
    if len(rows) > 1:
        return _command(options, _words("site", [site]))
    return f"dueward chart {shlex.quote(rows[0].property_number)} --site {shlex.quote(site)}" + (
        f" --year {rows[0].year}"
    )


def _command(options: ChartOptions, places: Sequence[str]) -> str:
    """What prints the missing charts of some places, narrowed as the status was."""
    numbers = [shlex.quote(number) for number in options.property_numbers]
    kinds = _words("kind", options.question.narrow.kinds)
    year = [f"--year {options.year}"] if options.year else []
    return " ".join(["dueward chart", *numbers, "--missing", *places, *kinds, *year])


def _places(options: ChartOptions) -> list[str]:
    narrow = options.question.narrow
    return [
        *_words("site", narrow.sites),
        *_words("county", narrow.counties),
        *_words("region", narrow.regions),
    ]


def _words(option: str, names: Sequence[str]) -> list[str]:
    return [f"--{option} {shlex.quote(name)}" for name in names]


def _line(row: MissingChart) -> list[str]:
    return [row.property_number, f"{row.year}", row.reason, row.differs or ""]
