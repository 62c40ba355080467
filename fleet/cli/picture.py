"""What does a consultant see of `due`? County by county, the one that owes service longest first.

What is overdue or due stands row by row; what is done or not due yet is counted at the end, and so
are charts that only wait for today's mark where more than one county is looked at.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from rich.console import RenderableType
from rich.text import Text

from fleet.cli.grids import fitted, grid, heading, printed, terminal_width
from fleet.domain.answers import StatusRow
from notifications.digests.words import counted, county, day, joined

__all__ = ["due_picture", "owing_counties", "standing"]

_OWED = ("overdue", "due")
_WIDE = 100
"""From so many columns on, the kind of each unit is shown."""


def standing(row: StatusRow) -> str:
    """How a row stands, in plain words."""
    if row.state == "overdue" and row.basis == "cell":
        return f"{counted(row.missed or 0, 'cell')} missed"
    if row.state == "overdue":
        return f"{counted(row.days_past_due or 0, 'day')} past due"
    if row.state == "due" and row.limit is not None:
        return f"due by {day(row.limit)}"
    if row.state == "upcoming" and row.opens is not None:
        return f"opens {day(row.opens)}"
    return row.state


def _past_due(row: StatusRow) -> int:
    return (row.days_past_due or 0) if row.state == "overdue" else 0


def _urgency(row: StatusRow) -> tuple[int, int, int, dt.date]:
    """Service past due first, then missed cells, then what is due soonest, then the rest."""
    is_other = row.state not in _OWED
    return -_past_due(row), -(row.missed or 0), is_other, row.limit or dt.date.max


def _counties(rows: Iterable[StatusRow]) -> list[list[StatusRow]]:
    """The rows of each county, most urgent first, and the counties in the order of their first."""
    found: dict[tuple[str, str], list[StatusRow]] = defaultdict(list)
    for row in sorted(rows, key=_urgency):
        found[row.region, row.county].append(row)
    return list(found.values())


def owing_counties(rows: Iterable[StatusRow]) -> list[dict[str, str | int]]:
    """The counties with service past due, the longest overdue first."""
    late = [row for row in rows if _past_due(row)]
    return [
        {
            "county": some[0].county,
            "region": some[0].region,
            "overdue services": len(some),
            "longest past due": counted(_past_due(some[0]), "day"),
        }
        for some in _counties(late)
    ]


def due_picture(rows: Sequence[StatusRow], on: dt.date | None, *, everything: bool) -> str:
    """The table form of `due`; with `everything`, each row stands one by one.

    Over several counties, charts that only wait for a mark are counted and not listed.
    """
    told = [row for row in rows if everything or row.state in _OWED]
    is_wide = len({row.county for row in told}) > 1 and not everything
    listed = [row for row in told if not (is_wide and _waits(row))]
    counties = _counties(listed)
    lines = [_line(row) for some in counties for row in some]
    widths = fitted(lines, folding=range(2, 5))
    parts: list[RenderableType] = [heading(_summary(rows, on))]
    for some in counties:
        parts += [Text(), heading(_county_heading(some))]
        parts.append(grid([_line(row) for row in some], widths=widths))
    hidden = Counter(row.state for row in rows if row.state not in _OWED and not everything)
    if waiting := len(told) - len(listed):
        hidden["waiting for a mark"] = waiting
    if hidden:
        parts += [Text(), Text(f"Not shown: {_tally(hidden)} (--all shows them).")]
    return printed(*parts)


def _waits(row: StatusRow) -> bool:
    return row.basis == "cell" and row.state == "due"


def _summary(rows: Sequence[StatusRow], on: dt.date | None) -> str:
    when = f"on {day(on)}" if on else "today"
    owed = Counter(row.state for row in rows if row.state in _OWED)
    if not owed:
        return f"Nothing is due or overdue {when}."
    owing = len(owing_counties(rows))
    who = "no county owes" if not owing else f"{counted(owing, 'county owes', 'counties owe')}"
    return f"Due {when}: {who} service; {_tally(owed)}"


def _tally(states: Counter[str]) -> str:
    return joined([f"{states[state]:,} {state}" for state in sorted(states, key=_order)])


def _order(state: str) -> tuple[bool, bool, str]:
    return state != "overdue", state != "due", state


def _county_heading(some: Sequence[StatusRow]) -> str:
    owed = Counter(row.state for row in some)
    return f"{county(some[0].county)}, {some[0].region}: {_tally(owed)}"


def _line(row: StatusRow) -> list[str]:
    """How it stands, property number, task, site and, if there is room, kind."""
    line = [standing(row), row.property_number, row.task, row.site]
    return [*line, row.kind] if terminal_width() >= _WIDE else line
