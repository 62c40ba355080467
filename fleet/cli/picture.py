"""What does a consultant see of `due`? County by county, the one that owes service longest first.

A service is a dated rule, a chart a cell rule. What is overdue or due stands row by row; what is
done or not due yet is counted at the end, and so are charts that only wait for a mark where more
than one county is looked at.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from rich.console import RenderableType
from rich.text import Text

from fleet.cli.grids import fitted, grid, heading, printed, terminal_width
from fleet.domain.answers import StatusRow
from notifications.digests.words import counted, county, day

__all__ = ["due_picture", "owing_counties", "standing"]

_OWED = ("overdue", "due")
_WAITING = ("chart waiting for a mark", "charts waiting for a mark")
_SORTS = {
    ("overdue", False): ("service overdue", "services overdue"),
    ("due", False): ("service due", "services due"),
    ("overdue", True): ("chart with marks missing", "charts with marks missing"),
    ("due", True): _WAITING,
}
"""What is owed, by state and whether it is a chart, in the order in which it is counted."""
_WIDE = 100
"""From so many columns on, the kind of each unit is shown."""


def standing(row: StatusRow) -> str:
    """How a row stands, in plain words."""
    if row.state == "overdue" and row.basis == "cell":
        return f"{counted(row.missed or 0, 'mark')} missing"
    if row.state == "overdue":
        return f"{counted(row.days_past_due or 0, 'day')} past due"
    if row.state == "due" and row.limit is not None:
        if row.due is not None and row.days_past_due:
            return _in_grace(row.due, row.limit)
        return f"{'mark' if row.basis == 'cell' else 'due'} by {day(row.due or row.limit)}"
    if row.state == "upcoming" and row.opens is not None:
        return f"opens {day(row.opens)}"
    return row.state


def _in_grace(due_on: dt.date, limit_on: dt.date) -> str:
    """Both dates without their weekdays, which others leave no room for; the year told once."""
    was, until = (day(on).partition(" ")[2] for on in (due_on, limit_on))
    year = f" {limit_on.year}"
    return f"was due {was.removesuffix(year)}, until {until}"


def _past_due(row: StatusRow) -> int:
    return (row.days_past_due or 0) if row.state == "overdue" else 0


def _urgency(row: StatusRow) -> tuple[int, int, int, dt.date]:
    """Service past due first, then missing marks, then what is due soonest, then the rest."""
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
        parts += [Text(), heading(f"{county(some[0].county)}, {some[0].region}: {_tally(some)}")]
        parts.append(grid([_line(row) for row in some], widths=widths))
    if hidden := _hidden(rows, len(told) - len(listed)) if not everything else "":
        parts += [Text(), Text(f"Not shown: {hidden}; --all shows them.")]
    return printed(*parts)


def _waits(row: StatusRow) -> bool:
    return row.basis == "cell" and row.state == "due"


def _summary(rows: Sequence[StatusRow], on: dt.date | None) -> str:
    owed = [row for row in rows if row.state in _OWED]
    if not owed:
        return f"Nothing is due or overdue {f'on {day(on)}' if on else 'today'}."
    late = [row for row in owed if _past_due(row)]
    rest = _tally(row for row in owed if not _past_due(row) and not _waits(row))
    who = "no county owes service"
    if late:
        owing = counted(len(owing_counties(late)), "county owes", "counties owe")
        who = f"{owing} service ({_tally(late)})"
    return f"{day(on) if on else 'Today'}: {', '.join(filter(None, [who, rest]))}"


def _tally(rows: Iterable[StatusRow]) -> str:
    """How many of each sort, what is owed first: '1 service overdue, 2 services due, 3 done'."""
    owed, other = Counter[tuple[str, bool]](), Counter[str]()
    for row in rows:
        if row.state in _OWED:
            owed[row.state, row.basis == "cell"] += 1
        else:
            other[row.state] += 1
    told = [counted(owed[sort], *words) for sort, words in _SORTS.items() if owed[sort]]
    return ", ".join([*told, *(f"{count:,} {state}" for state, count in sorted(other.items()))])


def _hidden(rows: Iterable[StatusRow], waiting: int) -> str:
    """What is not listed, and what it is that charts wait for."""
    others = _tally(row for row in rows if row.state not in _OWED)
    until = "its day, week or month is" if waiting == 1 else "their day, week or month is"
    charts = f"{counted(waiting, *_WAITING)} ({until} not over yet)" if waiting else ""
    return ", ".join(filter(None, [charts, others]))


def _line(row: StatusRow) -> list[str]:
    """How it stands, property number, task, site and, if there is room, kind."""
    line = [standing(row), row.property_number, row.task, row.site]
    return [*line, row.kind] if terminal_width() >= _WIDE else line
