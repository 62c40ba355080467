"""Which sites may a program ask about, and on which days are they open?"""

from __future__ import annotations

import datetime as dt
from typing import Final

from flask import Response

from fleet.domain.records import Site
from fleet.domain.texts import Wrong
from fleet.services.calendars import CalendarMaker
from fleet.services.standing import day_at
from fleet.web.api.given import Given, query
from fleet.web.api.told import PART, json_answer, part
from fleet.web.asked import Asked, asked
from fleet.web.routes import Operations
from fleet.web.who import AT_SITES

__all__ = ["OPERATIONS", "span"]

OPERATIONS = Operations()

_MOST_DAYS: Final = 366


@OPERATIONS.get("/api/v1/sites", who=AT_SITES)
def sites() -> Response:
    """The visitor's sites, by their short names."""
    asking, given = asked(), query(*PART)
    with asking.read() as record:
        register = record.register()
    own = [register.sites[(name,)] for name in sorted(asking.visitor.sites(*AT_SITES))]
    return part(own, given, lambda site: _site(asking, site))


def _site(asking: Asked, site: Site) -> dict[str, object]:
    return {
        "site": site.site,
        "name": site.name,
        "county": site.county,
        "region": site.region,
        "country": site.country,
        "subdivision": site.subdivision,
        "time_zone": site.time_zone,
        "open_days": site.open_days,
        "latitude": site.latitude,
        "longitude": site.longitude,
        "postal_code": site.postal_code or None,
        "today": day_at(site, asking.now),
    }


@OPERATIONS.get("/api/v1/sites/<site>", who=AT_SITES)
def site(site: str) -> Response:
    """One site."""
    asking = asked()
    query().check()
    with asking.read() as record:
        found = asking.site(record.register(), site, *AT_SITES)
    return json_answer(_site(asking, found))


@OPERATIONS.get("/api/v1/sites/<site>/days", who=AT_SITES)
def days(site: str) -> Response:
    """Whether a site is open, day by day, and otherwise why not (design 4.2)."""
    asking, given = asked(), query("from", "to")
    with asking.read() as record:
        register = record.register()
        place = asking.site(register, site, *AT_SITES)
        today = day_at(place, asking.now)
        from_on, to_on = span(given, today, today + dt.timedelta(days=30), _MOST_DAYS)
        maker = CalendarMaker(register, record.holiday_years(), asking.public_holidays)
        calendar = maker.calendar(place, from_on.year, to_on.year)
    told = []
    for count in range((to_on - from_on).days + 1):
        on = from_on + dt.timedelta(days=count)
        closed = calendar.why_closed(on)
        told.append({"on": on, "open": closed is None, "reason": closed.reason if closed else None})
    return json_answer({"site": place.site, "days": told})


def span(given: Given, from_on: dt.date, to_on: dt.date, most: int) -> tuple[dt.date, dt.date]:
    """The days `from` and `to`, both included; at most so many. Raises Refusal."""
    first, last = given.day("from", from_on), given.day("to", to_on)
    given.check()
    if last < first:
        given.fault("to", Wrong(f"{last} is before {first}", "exchange the two days"))
    elif (last - first).days >= most:
        given.fault("to", Wrong(f"that is more than {most} days", "ask for fewer at a time"))
    given.check()
    return first, last
