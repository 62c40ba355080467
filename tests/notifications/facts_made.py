"""Builders for facts: everything has a plain default, a test names only what it speaks of."""

from __future__ import annotations

import datetime as dt

from notifications.facts import (
    Chart,
    ConsultantFacts,
    Duty,
    ManagerFacts,
    Period,
    Place,
    Reader,
    SiteFacts,
    SiteLeadFacts,
    Standing,
)
from notifications.messages import Kind, Rendered
from schedules.rules import Each

ON = dt.date(2026, 11, 16)
"""A Monday that is not the first of its month."""
FIRST_MONDAY = dt.date(2026, 12, 7)
PLACE = Place(site="alder", name="Alder Creek", county="Adams", region="Platte")
READER = Reader(
    email="ana@lab.example",
    name="Ana Quist",
    dated_at=dt.datetime(2026, 11, 16, 7, 0, tzinfo=dt.timezone(dt.timedelta(hours=-6))),
)


def a_duty(due_in: int, on: dt.date = ON, **changes: object) -> Duty:
    """A duty due so many days after a day; its window is 45 days, its grace 15."""
    due_on = on + dt.timedelta(days=due_in)
    opens_on, limit_on = due_on - dt.timedelta(days=45), due_on + dt.timedelta(days=15)
    standing = Standing.UPCOMING
    if on >= opens_on:
        standing = Standing.DUE if on <= limit_on else Standing.OVERDUE
    given: dict[str, object] = {
        "place": PLACE,
        "property_number": "NE-1",
        "kind": "Bench microscope",
        "task": "annual-service",
        "title": "Service by the vendor",
        "standing": standing,
        "opens_on": opens_on,
        "due_on": due_on,
        "limit_on": limit_on,
        "days_past_due": max(0, -due_in),
        "is_annual_service": True,
        "fee_cents": 8500,
    }
    return Duty(**{**given, **changes})  # type: ignore[arg-type]


def a_chart(**changes: object) -> Chart:
    """A chart of every open day that waits for today's mark and has no gap."""
    given: dict[str, object] = {
        "place": PLACE,
        "property_number": "NE-1",
        "kind": "Bench microscope",
        "task": "optics",
        "title": "Clean the optics",
        "each": Each.OPEN_DAY,
        "standing": Standing.DUE,
        "opens_on": ON,
        "closes_on": ON,
        "missed": 0,
        "gaps": (),
    }
    return Chart(**{**given, **changes})  # type: ignore[arg-type]


def days(*ons: dt.date) -> tuple[Period, ...]:
    return tuple(Period(from_on=on, to_on=on) for on in ons)


def lead_facts(*duties: Duty, charts: tuple[Chart, ...] = (), on: dt.date = ON) -> SiteLeadFacts:
    site = SiteFacts(place=PLACE, duties=duties, charts=charts)
    return SiteLeadFacts(reader=READER, on=on, sites=(site,))


def region_facts(*duties: Duty, on: dt.date = ON, **changes: object) -> ConsultantFacts:
    given: dict[str, object] = {"regions": ("Platte",), "charts": (), "silent": ()}
    whole = {"reader": READER, "on": on, "duties": duties, **given, **changes}
    return ConsultantFacts(**whole)  # type: ignore[arg-type]


ROOT = "0123456789abcdef" * 4


def program_facts(*services: Duty, on: dt.date = ON) -> ManagerFacts:
    return ManagerFacts(reader=READER, on=on, regions=(), services=services, root=ROOT, root_on=ON)


def a_rendered(**changes: object) -> Rendered:
    given: dict[str, object] = {
        "kind": Kind.SITE_LEAD,
        "email": "ana@lab.example",
        "name": "Ana Quist",
        "period": "2026-W47",
        "dated_at": READER.dated_at,
        "is_all_clear": False,
        "subject": "Alder Creek: 1 overdue",
        "text": "Start with NE-1.\n",
        "html": "<!DOCTYPE html><html lang='en'><title>t</title><p>Start with NE-1.</p></html>",
    }
    return Rendered(**{**given, **changes})  # type: ignore[arg-type]
