"""What is the life of one unit: where it stood, what was done to it, why it is due?"""

from __future__ import annotations

import datetime as dt
from operator import attrgetter
from typing import Final

from flask import Response, abort, request
from flask.typing import ResponseReturnValue

from fleet.domain.numbers import formers_of
from fleet.domain.records import Unit
from fleet.domain.register import Register
from fleet.services.charts.years import ChartQuestion, year_charts
from fleet.services.columns import book_of
from fleet.services.outages import outages_of
from fleet.services.ports import Record
from fleet.services.questions import Question
from fleet.services.readings import rule_on
from fleet.services.standing import moves_of_unit, site_of, today_of
from fleet.services.why import explain_row
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_count
from fleet.web.routes import Pages
from fleet.web.who import LEADS

__all__ = ["PAGES"]

PAGES = Pages()

_ENTRIES: Final = 50
_QUARTERS: Final = 4


@PAGES.get("/units/<path:number>", who=LEADS)
def unit(number: str) -> ResponseReturnValue:
    """The unit's life on one page."""
    asking = asked()
    page = one_count("page", request.args.get("page", ""), 1, 1, 10_000)
    with asking.read() as record:
        facts = _facts(asking, record, number, page)
    return asking.page("unit.html", **facts)


def _facts(asking: Asked, record: Record, number: str, page: int) -> dict[str, object]:
    register = record.register()
    one = asking.unit(register, number, *LEADS)
    name, today = one.property_number, today_of(register, one, asking.now)
    site = register.sites[(site_of(register, one, today),)]
    rows = asking.web.board.view(record, asking.now).of_site(site.site)
    kind = book_of(register).kinds.get(one.kind)
    versions = kind.tasks(one.model) if kind else {}
    return {
        "unit": one,
        "formers": formers_of(register.renumberings.values(), name),
        "kind": kind.name if kind else one.kind,
        "site": site,
        "today": today,
        "rows": [row for row in rows if row.property_number == name],
        "rules": {task: rule_on(some, today) or some[0] for task, some in versions.items()},
        "years": list(range(today.year, _first_year(one) - 1, -1)),
        **_life(register, one),
        **_recorded(record, name, page),
    }


def _life(register: Register, one: Unit) -> dict[str, object]:
    """Where it stood, when it was out, who serviced it, what was wrong with it."""
    name = one.property_number
    reports = [report for report in register.reports.values() if report.property_number == name]
    actions = [action for action in register.actions.values() if action.property_number == name]
    return {
        "moves": moves_of_unit(register, one),
        "places": {site.site: site for site in register.sites.values()},
        "outages": outages_of(register, one),
        "reports": sorted(reports, key=attrgetter("on"), reverse=True),
        "extensions": [e for e in register.extensions.values() if e.property_number == name],
        "actions": sorted(actions, key=attrgetter("opened_on"), reverse=True),
    }


def _recorded(record: Record, name: str, page: int) -> dict[str, object]:
    """A page of what was recorded of a unit, the last stored first."""
    stored = list(record.entries([record.unit_ids()[name]]))
    latest = sorted(stored, key=lambda one: (one.stored_at, one.seq), reverse=True)
    return {
        "entries": latest[(page - 1) * _ENTRIES : page * _ENTRIES],
        "entry_count": len(latest),
        "page": page,
        "has_more": len(latest) > page * _ENTRIES,
        "struck": {one.entry.strikes for one in stored if one.entry.strikes},
    }


def _first_year(one: Unit) -> int:
    return (one.record_from_on or one.in_service_on).year


@PAGES.get("/units/<path:number>/why/<task>", who=LEADS)
def why(number: str, task: str) -> ResponseReturnValue:
    """Why a duty is due when it is, step by step."""
    asking = asked()
    with asking.read() as record:
        one = asking.unit(record.register(), number, *LEADS)
        question = Question(now=asking.now)
        told = explain_row(record, asking.public_holidays, one.property_number, task, question)
    return asking.page("why.html", unit=one, task=task, told=told)


@PAGES.get("/units/<path:number>/charts/<int:year>", who=LEADS)
def chart(number: str, year: int) -> ResponseReturnValue:
    """A quarter of a unit's chart, as it stands now."""
    from fleet.charts.html_months import month_parts

    asking = asked()
    with asking.read() as record:
        register = record.register()
        one = asking.unit(register, number, *LEADS)
        today = today_of(register, one, asking.now)
        if not _first_year(one) <= year <= today.year + 1:
            abort(404)
        usual = _quarter(today) if year == today.year else _QUARTERS if year < today.year else 1
        quarter = one_count("quarter", request.args.get("quarter", ""), usual, 1, _QUARTERS)
        asked_for = ChartQuestion(year=year, now=asking.now, numbers=(one.property_number,))
        charts = year_charts(record, asking.public_holidays, asked_for, lambda _: None).charts
    shown = [
        (made, [part for part in month_parts(made) if (part.number + 2) // 3 == quarter])
        for made in charts
        if made.site.site in asking.visitor.sites(*LEADS)
    ]
    return asking.page(
        "unit_chart.html", unit=one, year=year, quarter=quarter, charts=shown, today=today
    )


def _quarter(on: dt.date) -> int:
    return (on.month + 2) // 3


@PAGES.get("/units/<path:number>/certificates/<sha256>", who=LEADS)
def certificate(number: str, sha256: str) -> ResponseReturnValue:
    """A certificate that came with a service of the unit."""
    asking = asked()
    with asking.read() as record:
        one = asking.unit(record.register(), number, *LEADS)
        own = {
            report.certificate
            for report in record.register().reports.values()
            if report.property_number == one.property_number
        }
        kept = next((a for a in record.attachments() if a.sha256 == sha256), None)
        content = record.content(sha256) if sha256 in own else None
    if kept is None or content is None:
        abort(404)
    headers = {
        "Content-Disposition": f'attachment; filename="certificate-{sha256[:12]}"',
        "Content-Security-Policy": "sandbox; default-src 'none'",
    }
    return Response(content, mimetype=kept.media_type, headers=headers)
