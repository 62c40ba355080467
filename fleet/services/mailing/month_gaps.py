"""Which cells of a month that ended are blank, site by site, and to whom do its charts go back?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection

from fleet.domain.records import Role
from fleet.services.calendars import CalendarMaker
from fleet.services.columns import book_of
from fleet.services.due import due_rows
from fleet.services.findings import finding_rows
from fleet.services.mailing.digest_facts import fleet_facts
from fleet.services.mailing.readers import Readers
from fleet.services.months import first_day, last_day
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Narrow, Question
from fleet.services.returned_late import due_back
from notifications.facts import MonthGaps, Place
from notifications.messages import Kind

__all__ = ["month_gaps", "return_to"]


def month_gaps(
    record: Record,
    public_holidays: PublicHolidays,
    readers: Readers,
    month: str,
    sites: Collection[str],
    now: dt.datetime,
    on: dt.date,
) -> dict[str, MonthGaps]:
    """The gaps of a month ('2026-11') at some sites, by site, as they are known on a later day."""
    if not sites:
        return {}
    register, first_on = record.register(), first_day(month)
    question = Question(now=now, on=on, narrow=Narrow(sites=tuple(sorted(sites))))
    rows = due_rows(record, public_holidays, question).rows
    gaps = finding_rows(record, public_holidays, first_on, last_day(month), question, "gap")
    facts = fleet_facts(register, book_of(register), rows, gaps, on, since_on=first_on)
    calendars = CalendarMaker(register, record.holiday_years(), public_holidays)
    return {
        site: MonthGaps(
            place=facts.places[site],
            first_on=first_on,
            charts=tuple(chart for chart in facts.charts.get(site, ()) if chart.gaps),
            to_return=len({chart.property_number for chart in facts.charts.get(site, ())}),
            return_to=return_to(readers, facts.places[site]),
            return_by_on=due_back(calendars, register.sites[(site,)], month),
        )
        for site in sites
        if site in facts.places
    }


def return_to(readers: Readers, place: Place) -> str:
    """Whom a site's charts go back to: the consultant of its region, by name where there is one."""
    for reader in readers.all.values():
        for person in reader.people.get(Kind.CONSULTANT, ()):
            if person.role is Role.CONSULTANT and person.region in ("", place.region):
                return f"{reader.name} ({reader.email})" if reader.name else reader.email
    return ""
