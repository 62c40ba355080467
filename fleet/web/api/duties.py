"""What is due, and what is missing: the rows of `due` and `gaps` for a program (design 6)?"""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from typing import Final

from flask import Response

from fleet.services.findings import FINDINGS, finding_rows
from fleet.services.questions import Narrow, Question
from fleet.web.api.given import query
from fleet.web.api.sites import span
from fleet.web.api.told import PART, part, sites_asked
from fleet.web.asked import asked
from fleet.web.routes import Operations
from fleet.web.who import AT_SITES, LEADS
from schedules.units import STATES

__all__ = ["OPERATIONS"]

OPERATIONS = Operations()

_MOST_DAYS: Final = 92


@OPERATIONS.get("/api/v1/duties", who=AT_SITES)
def duties() -> Response:
    """A row a unit and task as it stands today, in the order of site and unit."""
    asking, given = asked(), query("site", "state", "kind", "task", *PART)
    state, kind, task = (
        given.choice(STATES, "state"),
        given.text("kind", 64),
        given.text("task", 64),
    )
    sites = sites_asked(asking, given, *AT_SITES)
    with asking.read() as record:
        view = asking.web.board.view(record, asking.now)
    rows = [
        row
        for name in sites
        for row in view.of_site(name)
        if state in ("", row.state) and kind in ("", row.kind) and task in ("", row.task)
    ]
    return part(rows, given, lambda row: row._asdict())


@OPERATIONS.get("/api/v1/gaps", who=LEADS)
def gaps() -> Response:
    """The findings of the record's audit within a span; gaps, unless another sort is asked for."""
    asking, given = asked(), query("from", "to", "site", "kind", "task", "finding", *PART)
    kind, task = given.text("kind", 64), given.text("task", 64)
    finding = given.choice(FINDINGS, "finding") or "gap"
    today = asking.now.date()
    from_on, to_on = span(given, today - dt.timedelta(days=31), today, _MOST_DAYS)
    sites = sites_asked(asking, given, *LEADS)
    narrow = Narrow(sites=sites, kinds=(kind,) if kind else (), tasks=(task,) if task else ())
    question = Question(now=asking.now, narrow=narrow)
    rows = []
    if sites:  # To be narrowed to no site is not to be narrowed.
        with asking.read() as record:
            found = finding_rows(record, asking.public_holidays, from_on, to_on, question, finding)
        rows = [row for row in found if row.site in sites]
    return part(rows, given, asdict)
