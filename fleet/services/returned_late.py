"""Which months' charts came back late (design 4.7: `chart returned late`)?"""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Iterator

from fleet.domain.answers import FindingRow
from fleet.domain.evidence import Review
from fleet.domain.records import Site
from fleet.services.calendars import CalendarMaker
from fleet.services.months import first_day, last_day
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Question
from schedules.calendars import SEARCHED_DAYS
from schedules.dates import day_of

__all__ = ["RETURNED_LATE", "RETURN_OPEN_DAYS", "due_back", "returned_late_rows"]

RETURNED_LATE = "chart returned late"
RETURN_OPEN_DAYS = 5
"""Charts are to be back by this open day after the month; common practice, no source."""


def returned_late_rows(
    record: Record,
    public_holidays: PublicHolidays,
    from_on: dt.date,
    to_on: dt.date,
    question: Question,
) -> Iterator[FindingRow]:
    """The months whose charts came back on a day of the span (both ends included; not after the
    day asked for) that lies after the site's fifth open day from the month's end.

    A month of which no return is on record has no such finding.
    """
    register = record.register(question.known_at)
    calendars = CalendarMaker(register, record.holiday_years(), public_holidays)
    last_on = to_on if question.on is None else min(to_on, question.on)
    for told in register.reviews.values():
        if told.returned_on is None or not from_on <= told.returned_on <= last_on:
            continue
        site = register.sites[(told.site,)]
        by_on = due_back(calendars, site, told.month)
        if by_on is not None and by_on < told.returned_on:
            yield _row(site, told, told.returned_on, by_on)


def due_back(calendars: CalendarMaker, site: Site, month: str) -> dt.date | None:
    """The site's RETURN_OPEN_DAYS-th open day after a month; None where it has none for a year."""
    start_on = last_day(month) + dt.timedelta(days=1)
    calendar = calendars.calendar(site, start_on.year, start_on.year + 1)
    days = calendar.open_days(day_of(start_on), SEARCHED_DAYS).nonzero()[0]
    if len(days) < RETURN_OPEN_DAYS:
        return None
    return start_on + dt.timedelta(days=int(days[RETURN_OPEN_DAYS - 1]))


def _row(site: Site, told: Review, on: dt.date, by_on: dt.date) -> FindingRow:
    command = f"dueward review {shlex.quote(site.site)} {told.month} --returned {on} --note '...'"
    return FindingRow(
        site=site.site,
        county=site.county,
        region=site.region,
        property_number="",
        kind="",
        task="",
        finding=RETURNED_LATE,
        period_from=first_day(told.month),
        period_to=last_day(told.month),
        opens=None,
        closes=None,
        on=on,
        entries=None,
        settle=f"The charts came back on {on}, and the site's fifth open day after the month was"
        f" {by_on}; ask why, and note it: {command}",
    )
