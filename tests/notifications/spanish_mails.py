"""Mails of every kind in Spanish, from facts that fill every section; what in them is English?"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

from notifications import digests
from notifications.event_facts import Change
from notifications.facts import (
    Away,
    Chart,
    ChartToPrint,
    ConsultantFacts,
    Duty,
    Escalated,
    Ladder,
    MonthGaps,
    NotReached,
    OpenAction,
    OpenOutage,
    SilentUnit,
    SiteFacts,
    SiteLeadFacts,
    StandIn,
    Visit,
    WaitingMonth,
    WhyPrint,
)
from notifications.languages import speaking
from notifications.messages import Message, Rendered, Skipped
from notifications.rendering import render
from schedules.rules import Each
from tests.notifications.facts_made import (
    FIRST_MONDAY,
    ON,
    PLACE,
    READER,
    a_chart,
    a_duty,
    a_report,
    an_arrival,
    days,
    gaps_facts,
    lead_facts,
    new_charts_facts,
    news_facts,
    program_facts,
    region_facts,
    visit_facts,
)

__all__ = ["english_in", "spanish"]

_READER = replace(READER, language="es")
_KIND = "Microscopio"
_AWAY = (StandIn("Robin Mossgrave", dt.date(2026, 11, 20)),)
_GAPS = days(*(ON - dt.timedelta(days=n) for n in (9, 8, 7, 6, 5)))
_ENGLISH = re.compile(
    r"(?<![-\w/])(?:the|and|of|is|are|was|not|with|for|this|that|by|from|you|your|it|what|how|more"
    r"|first|weeks?|overdue|units?|sites?|charts?|done|mark|days?|months?|nothing|all|or|due|to|on"
    r"|at|in|service|county|caution|today|last|next|until|since|vendor|other)(?![-\w/])",
    re.IGNORECASE,
)
_COMMAND = re.compile(r"dueward [a-z]+(?: --?[a-z-]+(?: '[^']*'| [^\s.;)-][^\s;)]*)?)*")


def _duty(due_in: int, number: str, **changes: object) -> Duty:
    given: dict[str, object] = {
        "kind": _KIND,
        "property_number": number,
        "title_es": "Servicio del proveedor",
        "cautions": ("Unplug it first.", "Heat.", "Light."),
        "cautions_es": ("Primero desenchufe.", "Calor.", "Luz."),
    }
    return a_duty(due_in, **{**given, **changes})  # type: ignore[arg-type]


def _chart(**changes: object) -> Chart:
    return a_chart(**{"kind": _KIND, "title_es": "Limpiar la óptica", **changes})


def _duties() -> tuple[Duty, ...]:
    told = (Escalated(is_manager=False, told_on=ON - dt.timedelta(days=7)),)
    both = (*told, Escalated(is_manager=True, told_on=ON))
    return (
        _duty(-40, "NE-1", escalated=told),
        _duty(-80, "NE-2", escalated=both),
        _duty(-3, "NE-3"),
        _duty(0, "NE-4"),
        _duty(9, "NE-5"),
        _duty(30, "NE-6"),
        _duty(-60, "NE-7", is_annual_service=False, task="check", title_es="Control"),
    )


def _charts() -> tuple[Chart, ...]:
    quarter, week = dt.date(2026, 12, 31), ON + dt.timedelta(days=6)
    return (
        _chart(property_number="NE-11"),
        _chart(property_number="NE-12", gaps=_GAPS),
        _chart(property_number="NE-13", gaps=_GAPS[:2]),
        _chart(property_number="NE-14", missed=2, each=Each.HALF_YEAR),
        _chart(property_number="NE-15", each=Each.QUARTER, closes_on=quarter),
        _chart(property_number="NE-16", each=Each.MONTH, closes_on=week),
        _chart(property_number="NE-17", each=Each.WEEK, closes_on=week),
    )


def _actions() -> tuple[OpenAction, ...]:
    def action(number: str, **changes: Any) -> OpenAction:
        given: dict[str, Any] = {
            "place": PLACE,
            "number": number,
            "property_number": f"NE-{number}",
            "problem": "La lámpara parpadea",
            "action": "Cambiarla",
            "responsible": "Ana Quist",
            "opened_on": dt.date(2026, 10, 5),
            "review_on": None,
        }
        return OpenAction(**{**given, **changes})

    return (
        action("21"),
        action("22", review_on=ON),
        action("23", review_on=ON - dt.timedelta(days=2), property_number=""),
        action("24", review_on=ON + dt.timedelta(days=2), action=""),
        action("25", action="", responsible=""),
    )


def _outage() -> OpenOutage:
    from_on = ON - dt.timedelta(days=30)
    return OpenOutage(place=PLACE, property_number="NE-31", kind=_KIND, from_on=from_on, reason="")


def _lead() -> SiteLeadFacts:
    arrived = replace(an_arrival(), kind=_KIND, tasks_es=("Limpiar la óptica",))
    report = replace(
        a_report(), kind=_KIND, title_es="Servicio", vendor="Lensworth", remarks="Foco"
    )
    month = MonthGaps(
        place=PLACE, first_on=dt.date(2026, 10, 1), charts=(_chart(gaps=_GAPS),), to_return=3
    )
    site = SiteFacts(
        place=PLACE,
        duties=_duties(),
        charts=_charts(),
        visit=Visit(on=ON, vendor="Lensworth", property_numbers=("NE-1", "NE-2")),
        actions=_actions(),
        outages=(_outage(),),
        news=(arrived, report),
        month_gaps=month,
    )
    idle = SiteFacts(place=replace(PLACE, site="birch", name="Birch Hill"), duties=(), charts=())
    return SiteLeadFacts(reader=_READER, on=ON, sites=(site, idle), stand_in=_AWAY, ladder=Ladder())


def _region() -> ConsultantFacts:
    fir = replace(PLACE, site="fir", name="Fir Hollow", county="Fillmore")
    prints = [
        ChartToPrint(place=PLACE, property_number=f"NE-{n}", kind=_KIND, year=2026, why=why)
        for n, why in enumerate([*WhyPrint, *[WhyPrint.NEW_UNIT] * 4])
    ]
    months = [
        WaitingMonth(place=place, first_on=dt.date(2026, n, 1), is_reopened=n == 3, returned_on=ON)
        for place in (PLACE, fir)
        for n in range(1, 9)
    ]
    lost = NotReached(
        key="9c1f", name="Kim Vale", email="kim@lab.example", subject="", day_on=ON, why="550"
    )
    absent = Away(
        name="Lee Marsh", email="lee@lab.example", from_on=ON, until_on=ON, deputy="Kim Vale"
    )
    silent = [
        SilentUnit(place=PLACE, property_number=n, kind=_KIND, gaps=20, last_done_on=done_on)
        for n, done_on in (("NE-41", None), ("NE-42", dt.date(2026, 10, 1)))
    ]
    facts = region_facts(
        *_duties(),
        charts=(*_charts(), _chart(place=fir)),
        silent=tuple(silent),
        months=tuple(months),
        actions=_actions(),
        to_print=tuple(prints),
        not_reached=(lost, replace(lost, key="9c2f", is_suspended=True)),
        away=(absent, replace(absent, deputy="", places=(PLACE,))),
        stand_in=_AWAY,
        ladder=Ladder(),
    )
    return replace(facts, reader=_READER)


def _said(write: Callable[[], Message | Skipped]) -> Rendered:
    with speaking("es"):
        made = write()
        assert isinstance(made, Message)
        return render(made)


def _told_again() -> Message | Skipped:
    """A lead's digest of what was all told before."""
    first = digests.site_lead(_lead())
    assert isinstance(first, Message)
    return digests.site_lead(replace(_lead(), told=first.items))


@cache
def spanish() -> dict[str, Rendered]:
    """Mails of every kind, by name."""
    visit = replace(visit_facts(), reader=_READER)
    task = replace(visit.tasks[0], kind=_KIND, title_es="Servicio del proveedor")
    visit = replace(visit, tasks=(task,), vendor="Lensworth", reason="Nieve", contact="Robin Vell")
    gaps = replace(gaps_facts(_chart(gaps=_GAPS)), reader=_READER)
    charts = replace(new_charts_facts("NE-1", "NE-2"), reader=_READER)
    own = [
        replace(one, charts=tuple(replace(chart, kind=_KIND) for chart in one.charts))
        for one in charts.sites
    ]
    charts = replace(charts, sites=tuple(own))
    large = replace(charts, sites=tuple(replace(one, file="", return_to="") for one in own))
    news = replace(news_facts(*_lead().sites[0].news), reader=_READER)
    program = replace(program_facts(*_duties()), reader=_READER, ladder=Ladder())
    calm = replace(lead_facts(on=FIRST_MONDAY), reader=_READER)
    quiet = replace(region_facts(on=FIRST_MONDAY), reader=_READER)
    none = replace(program_facts(on=FIRST_MONDAY), reader=_READER)
    written: dict[str, Callable[[], Message | Skipped]] = {
        "site_lead": lambda: digests.site_lead(_lead()),
        "site_lead again": _told_again,
        "site_lead, all clear": lambda: digests.site_lead(calm),
        "consultant": lambda: digests.consultant(_region()),
        "consultant of all": lambda: digests.consultant(replace(_region(), regions=(), duties=())),
        "consultant, all clear": lambda: digests.consultant(quiet),
        "manager": lambda: digests.manager(program),
        "manager, all clear": lambda: digests.manager(none),
        "gaps": lambda: digests.gaps(gaps),
        "gaps, none": lambda: digests.gaps(
            replace(gaps, sites=tuple(replace(one, charts=()) for one in gaps.sites))
        ),
        "new_charts": lambda: digests.new_charts(charts),
        "new_charts, too large": lambda: digests.new_charts(large),
        "news": lambda: digests.news(news),
        "new_password": lambda: digests.new_password(_READER, "1", "https://pages.example/l/x"),
    }
    for change in Change:
        changed = replace(visit, change=change)
        written[f"visit {change.value}"] = lambda changed=changed: digests.visit(changed)  # type: ignore[misc]
    return {name: _said(write) for name, write in written.items()}


def english_in(made: Rendered) -> list[str]:
    """English words in a mail's three parts, save those of commands."""
    html = re.sub(r"(?s)<style.*?</style>|<code>.*?</code>", " ", made.html)
    html = re.sub(r"<[^>]+>", " ", html)
    text = re.sub(r"\s+", " ", made.text)
    parts = [_COMMAND.sub(" ", part) for part in (made.subject, text, html)]
    return [
        part[max(0, found.start() - 30) : found.end() + 20]
        for part in parts
        for found in _ENGLISH.finditer(part)
    ]
