"""Which print is a chart, and which earlier print does it supersede?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple, Protocol

from fleet.domain.prints import Print
from fleet.domain.register import Change
from fleet.services.charts.differences import differences
from fleet.services.charts.facts import PrintedChart, YearChart
from fleet.services.charts.frozen import frozen_cells, frozen_rows
from fleet.services.ports import Record, Stamp
from fleet.services.standing import day_at

__all__ = ["Laid", "Layout", "current_prints", "keep_prints", "prints_of"]

ChartKey = tuple[str, str, int]
"""Property number, site and year."""


class Laid(NamedTuple):
    """How a chart is laid out: on so many pages, and what finds its cells again, as JSON."""

    pages: int
    geometry: str


class Layout(Protocol):
    """The geometry of printed charts, by its version (`fleet.charts.layout` has it)."""

    version: str

    def laid(self, chart: YearChart) -> Laid:
        """Lay out a chart; ChartTooLong where it has more rows than a page holds."""
        ...


def prints_of(
    charts: Iterable[YearChart],
    earlier: Iterable[Print],
    layout: Layout,
    number: Callable[[], str],
    paper: str,
    known_at: dt.datetime | None,
    now: dt.datetime,
) -> list[PrintedChart]:
    """Make each chart a print, dated by `now` at its site.

    earlier: all prints there are, so that no number is given twice. number: draws one; it is asked
    again for one that is taken. A chart as known at an instant is a copy for the file: it replaces
    nothing.
    """
    known = list(earlier)
    taken = {one.number for one in known}
    current = {} if known_at else current_prints(known)
    found = []
    for chart in charts:
        old = current.get((chart.unit.property_number, chart.site.site, chart.year))
        laid, drawn = layout.laid(chart), _drawn(number, taken)
        made = Print(
            number=drawn,
            property_number=chart.unit.property_number,
            site=chart.site.site,
            year=chart.year,
            printed_on=day_at(chart.site, now),
            replaces=old.number if old else "",
            known_at=known_at.astimezone(dt.UTC).isoformat() if known_at else "",
            paper=paper,
            layout=layout.version,
            pages=laid.pages,
            geometry=laid.geometry,
            days=chart.days,
            rows=frozen_rows(chart.rows),
            cells=frozen_cells(chart.rows),
        )
        found.append(PrintedChart(chart, made, differences(old, chart) if old else ()))
    return found


def _drawn(number: Callable[[], str], taken: set[str]) -> str:
    """A number that no print has; from now on it is taken."""
    drawn = number()
    while drawn in taken:
        drawn = number()
    taken.add(drawn)
    return drawn


def current_prints(prints: Iterable[Print]) -> dict[ChartKey, Print]:
    """Of each unit, site and year the print that no other replaces; of several the latest, and
    where each is replaced by another of all.

    Copies as known at an instant are none of them.
    """
    charts = [one for one in prints if not one.known_at]
    replaced = {one.replaces for one in charts}
    found: dict[ChartKey, list[Print]] = defaultdict(list)
    for one in charts:
        found[one.property_number, one.site, one.year].append(one)
    left = {
        key: [one for one in some if one.number not in replaced] or some
        for key, some in found.items()
    }
    return {
        key: max(some, key=lambda one: (one.printed_on, one.number)) for key, some in left.items()
    }


def keep_prints(record: Record, printed: Sequence[PrintedChart], stamp: Stamp) -> None:
    """Write the prints to the record; the caller commits."""
    changes = [Change(old=None, new=one.print, initial=False) for one in printed]
    record.change(changes, stamp)
