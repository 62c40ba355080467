"""What was printed? One chart of one unit, site and year, as it left the printer.

A print is a register record, and is never changed: a chart that is printed again is another print.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

__all__ = ["Print"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Print:
    """One printed chart: a unit's year at a site, known by the number in its pages' codes."""

    number: str
    """Eight characters of 0-9 and A-Z, drawn at random; it stands in the code of every page."""
    property_number: str
    site: str
    year: int
    printed_on: dt.date
    """The civil date at the site."""
    replaces: str = ""
    """The number of the print of the same unit, site and year that this one supersedes, or ''."""
    known_at: str = ""
    """The instant the chart's content was known at, where one was asked for: then it is a copy for
    the file, not a chart for the wall."""
    paper: str
    """letter or a4."""
    layout: str
    """One character: the version of the geometry (`fleet.charts.geometry`)."""
    pages: int
    geometry: str
    """What that version needs to find every cell again, as canonical JSON."""
    days: str
    """Why each day of the year was pre-marked for the unit, a sign a day, '.' where it was not."""
    rows: str
    """The rows of the chart from top to bottom with the versions of their rules, as JSON."""
    cells: str
    """What each cell of each row was printed as, a sign a cell, rows apart by a blank."""

    @property
    def key(self) -> tuple[str, ...]:
        """The number."""
        return (self.number,)
