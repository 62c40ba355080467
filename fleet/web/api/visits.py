"""Which visits of vendors are planned, and which corrective actions are open?"""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from operator import attrgetter
from typing import Final

from flask import Response

from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit, VisitState
from fleet.services.action_rows import ActionRow, action_rows
from fleet.services.questions import Narrow, Question
from fleet.services.visits.numbers import present_names
from fleet.web.api.given import query
from fleet.web.api.sites import span
from fleet.web.api.told import PART, part, sites_asked
from fleet.web.asked import asked
from fleet.web.routes import Operations
from fleet.web.who import LEADS, OVERSEERS
from schedules.visits.model import Grade

__all__ = ["OPERATIONS"]

OPERATIONS = Operations()

_MOST_DAYS: Final = 731


@OPERATIONS.get("/api/v1/visits", who=LEADS)
def visits() -> Response:
    """The visits that begin within a span, the earliest first.

    A site's lead sees those it may be told of: what is free may still move. Technicians and plans
    are for those who see more than one site.
    """
    asking, given = asked(), query("from", "to", "site", "state", *PART)
    today, state = asking.now.date(), given.word(VisitState, "state")
    from_on, to_on = span(given, today, today + dt.timedelta(days=365), _MOST_DAYS)
    sites, overseen = sites_asked(asking, given, *LEADS), asking.visitor.sites(*OVERSEERS)
    with asking.read() as record:
        register = record.register()
    found = [
        visit
        for visit in sorted(register.visits.values(), key=attrgetter("on", "number"))
        if visit.site in sites and from_on <= visit.on <= to_on and state in (None, visit.state)
        if visit.site in overseen or visit.grade is not Grade.FREE
    ]
    return part(found, given, lambda one: _visit(register, one, whole=one.site in overseen))


def _visit(register: Register, visit: SiteVisit, *, whole: bool) -> dict[str, object]:
    names = present_names(register, visit.need_names)
    return {
        "number": visit.number,
        "plan": visit.plan if whole else None,
        "technician": visit.technician if whole else None,
        "vendor": visit.vendor,
        "site": visit.site,
        "trip_on": visit.trip_on if whole else None,
        "on": visit.on,
        "to": visit.to_on,
        "begins": visit.from_at,
        "ends": visit.to_at,
        "grade": visit.grade.value,
        "state": visit.state.value,
        "done_on": visit.done_on,
        "reason": visit.reason or None,
        "services": [
            _service(name, visit.reasons.get(written))
            for name, written in zip(names, visit.need_names, strict=True)
        ],
    }


def _service(name: str, not_done: str | None) -> dict[str, object]:
    number, task, due = name.rsplit("/", 2)
    return {"property_number": number, "task": task, "due": due, "not_done": not_done}


@OPERATIONS.get("/api/v1/actions", who=LEADS)
def actions() -> Response:
    """The corrective actions that are open, the pressing first."""
    asking, given = asked(), query("site", *PART)
    sites = sites_asked(asking, given, *LEADS)
    question, rows = Question(now=asking.now, narrow=Narrow(sites=sites)), list[ActionRow]()
    if sites:  # To be narrowed to no site is not to be narrowed.
        with asking.read() as record:
            rows = [row for row in action_rows(record, question) if row.site in sites]
    return part(rows, given, _action)


def _action(row: ActionRow) -> dict[str, object]:
    """The row without its last field, which is a command."""
    told = asdict(row)
    del told["next"]
    return told
