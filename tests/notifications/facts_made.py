"""Builders for facts: everything has a plain default, a test names only what it speaks of."""

from __future__ import annotations

import datetime as dt

from notifications.event_facts import (
    Change,
    GapsFacts,
    NewChart,
    NewChartsFacts,
    NewsFacts,
    SiteCharts,
    VisitFacts,
    VisitTask,
)
from notifications.facts import (
    Chart,
    ConsultantFacts,
    Duty,
    ManagerFacts,
    MonthGaps,
    Period,
    Place,
    Reader,
    ReportIn,
    SiteFacts,
    SiteLeadFacts,
    StandIn,
    Standing,
    UnitArrived,
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


def gaps_facts(
    *charts: Chart, place: Place = PLACE, stand_in: tuple[StandIn, ...] = ()
) -> GapsFacts:
    """The month before ON; ten units have charts."""
    month = MonthGaps(
        place=place,
        first_on=dt.date(2026, 10, 1),
        charts=charts,
        to_return=10,
        return_to="Robin Vell (robin@state.example)",
        return_by_on=dt.date(2026, 11, 6),
    )
    return GapsFacts(reader=READER, on=ON, sites=(month,), stand_in=stand_in)


def new_charts_facts(
    *numbers: str, place: Place = PLACE, file: str = "charts-2027-alder.pdf"
) -> NewChartsFacts:
    charts = tuple(
        NewChart(property_number=number, kind="Bench microscope", pages=4) for number in numbers
    )
    site = SiteCharts(place=place, charts=charts, file=file, return_to="Robin Vell")
    return NewChartsFacts(reader=READER, on=ON, year=2027, sites=(site,))


def an_arrival(number: str = "NE-1", place: Place = PLACE) -> UnitArrived:
    return UnitArrived(
        place=place,
        property_number=number,
        kind="Bench microscope",
        from_on=ON - dt.timedelta(days=1),
        from_site="Birch Hill",
        tasks=("Clean the optics",),
    )


def a_report(number: str = "NE-2", place: Place = PLACE) -> ReportIn:
    return ReportIn(
        place=place,
        property_number=number,
        kind="Bench microscope",
        task="annual-service",
        title="Service by the vendor",
        done_on=ON - dt.timedelta(days=3),
        opens_on=dt.date(2027, 10, 1),
        due_on=dt.date(2027, 11, 15),
        vendor="Lensworth Service",
        remarks="Fine focus replaced",
    )


def news_facts(*news: UnitArrived | ReportIn) -> NewsFacts:
    return NewsFacts(reader=READER, on=ON, news=news)


def visit_facts(
    change: Change = Change.CONFIRMED,
    number: str = "NE-1",
    place: Place = PLACE,
    cautions: tuple[str, ...] = (),
) -> VisitFacts:
    task = VisitTask(
        property_number=number,
        kind="Bench microscope",
        task="annual-service",
        title="Service by the vendor",
        cautions=cautions,
        due_on=dt.date(2026, 12, 4),
    )
    return VisitFacts(
        reader=READER,
        on=ON,
        period="9c1f/1",
        change=change,
        place=place,
        vendor="Lensworth Service",
        visit_on=dt.date(2026, 12, 1),
        from_at=dt.time(9),
        to_at=dt.time(11, 30),
        was_on=dt.date(2026, 11, 24),
        tasks=(task,),
    )


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
