"""How are findings laid out for people? Site by site; a run of the same finding is told once."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby
from operator import attrgetter

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from fleet.cli.grids import command, fitted, grid, heading, printed
from fleet.cli.output import one_line
from fleet.domain.answers import FindingRow
from notifications.digests.words import counted, county, day, joined

__all__ = ["findings_table"]

_OWN_WORDS = {"backdated", "corrected"}
"""What settles these holds people's own words, one's unlike another's, and no command."""
_INDENT = 4
_PLURALS = {"gap": "gaps", "batch": "batches", "conflict": "conflicts"}
_COMMAND = re.compile(r": (?=dueward )|(?<='\.\.\.'), then (?=dueward )")
Line = tuple[list[str], str, list[str]]
"""Its columns, what settles it, and the commands for that."""


def findings_table(rows: Sequence[FindingRow], from_on: dt.date, to_on: dt.date) -> str:
    """The table form of `gaps`."""
    span = f"from {day(from_on)} to {day(to_on)}"
    if not rows:
        return f"No findings {span}."
    counts = Counter(row.finding for row in rows)
    told = joined([_counted(count, finding) for finding, count in counts.most_common()])
    parts: list[RenderableType] = [heading(f"{counted(len(rows), 'finding')} {span}: {told}")]
    sites = [_site(list(some)) for _, some in groupby(rows, key=attrgetter("site"))]
    widths = fitted([line for _, lines in sites for line, _, _ in lines], folding=range(4))
    for title, lines in sites:
        parts += [Text(), heading(title)]
        for line, settle, commands in lines:
            parts += [grid([line], widths=widths), Padding(Text(settle), (0, 0, 0, _INDENT))]
            parts += [command(words, _INDENT) for words in commands]
    return printed(*parts)


def _counted(count: int, finding: str) -> str:
    """So many of one sort; what is no noun stays as it is: '7 gaps', '1 gap', '3 late'."""
    return counted(count, finding, _PLURALS.get(finding, finding))


def _site(rows: Sequence[FindingRow]) -> tuple[str, list[Line]]:
    """The heading of one site, and its lines."""
    first = rows[0]
    place = ", ".join(filter(None, (first.site, county(first.county), first.region)))
    return place or "All sites", [_line(list(run)) for _, run in groupby(rows, key=_alike)]


def _alike(row: FindingRow) -> tuple[str, ...]:
    """What rows have in common that stand on one line."""
    own = row.settle if row.finding in _OWN_WORDS else ""
    return row.property_number, row.task, row.finding, own


def _line(run: Sequence[FindingRow]) -> Line:
    """One line for findings of one sort, unit and task that follow each other."""
    first = run[0]
    when = _when(day for row in run for day in _days(row))
    times = f"{len(run):,} times, " if len(run) > 1 else ""
    has_command = first.finding not in _OWN_WORDS
    settle, *commands = _COMMAND.split(first.settle) if has_command else [first.settle]
    alike = " (the others alike)" if len(run) > 1 else ""
    columns = [first.finding, f"{times}{when}", first.property_number, first.task]
    return columns, one_line(f"{settle}{alike}{':' if commands else ''}"), commands


def _days(row: FindingRow) -> list[dt.date]:
    """The first and last day it speaks of."""
    return [on for on in (row.period_from or row.on, row.period_to or row.on) if on]


def _when(days: Iterable[dt.date]) -> str:
    told = sorted(days)
    if not told:
        return ""
    return day(told[0]) if told[0] == told[-1] else f"{day(told[0])} to {day(told[-1])}"
