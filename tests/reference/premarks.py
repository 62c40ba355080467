"""With which sign is a place of a chart of the year pre-marked, asked day by day?

The signs: R retired, N not in service yet, E at another site, B before the record, O out of
service, C closure, H holiday, W weekday; X where no version of the rule asks for the cell.
"""

from __future__ import annotations

import datetime as dt

from tests.reference.calendars import WEEKDAYS
from tests.reference.units import UnitOfFleet

__all__ = ["sign_of_day", "sign_of_period"]


def sign_of_day(of: UnitOfFleet, day: dt.date, site: str) -> str:
    """Why no mark is expected of a unit at a site, asked one cause after another; '.' if one is."""
    record_from_on, calendar = of.unit.record_from_on, of.calendar_on(day)
    if of.is_retired(day):
        return "R"
    if day < of.unit.in_service_on:
        return "N"
    if calendar.site.site != site:
        return "E"
    if record_from_on is not None and day < record_from_on:
        return "B"
    if of.outage_on(day):
        return "O"
    words = calendar.why_closed(day)
    if words is None:
        return "."
    if any(one.from_on <= day <= one.to_on for one in calendar._closures):
        return "C"
    return "W" if words in WEEKDAYS else "H"


def sign_of_period(of: UnitOfFleet, period: list[dt.date], site: str) -> str:
    """Why a cell of several days is pre-marked at a site: of its days' reasons the gravest.

    What is true of the unit for good comes first, then where it stood, what was known of it, what
    was the matter with it, and what was the matter with the site: a closure, a holiday, a weekend.
    """
    told = {sign_of_day(of, day, site) for day in period}
    for sign in "RNEBOCHW":
        if sign in told:
            return sign
    raise AssertionError("a period with nothing but expected days is pre-marked")
