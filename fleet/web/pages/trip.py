"""What does a vendor's technician see? The stops of one trip, and forms for their reports."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Site, Unit
from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit, VisitState
from fleet.errors import BadInput, Fault
from fleet.services.access.given_links import open_link
from fleet.services.columns import book_of
from fleet.services.links import Link, Purpose
from fleet.services.ports import AttachedFile, Record, Stamp
from fleet.services.visits.handing_back import Outcome, hand_back
from fleet.services.visits.kept_plan import in_time
from fleet.services.visits.numbers import present_names, unit_and_task
from fleet.web.asked import Asked, asked
from fleet.web.certificates import sent_certificate
from fleet.web.fields import one_day
from fleet.web.pages.packet_page import unreferred
from fleet.web.routes import ANYBODY, Pages
from fleet.web.token_doors import wrong_links_counted
from schedules.rules import Rule

__all__ = ["PAGES", "Stop"]

PAGES = Pages()


@dataclass(frozen=True, slots=True)
class Task:
    """One unit to be serviced at a stop."""

    unit: Unit
    kind: str
    rule: Rule | None
    task: str
    last_on: dt.date | None
    not_done: str


@dataclass(frozen=True, slots=True)
class Stop:
    """One visit of the trip."""

    visit: SiteVisit
    site: Site
    tasks: Sequence[Task]

    @property
    def is_open(self) -> bool:
        """Say whether its report is still to come."""
        return self.visit.state is VisitState.PLANNED

    @property
    def cautions(self) -> Sequence[str]:
        """What its tasks warn of, each once."""
        found = [c for task in self.tasks if task.rule for c in task.rule.cautions]
        return list(dict.fromkeys(found))


@PAGES.get("/t/<token>", who=ANYBODY)
def trip(token: str) -> ResponseReturnValue:
    """The trip's stops."""
    asking = asked()
    with wrong_links_counted(asking):
        link = open_link(asking.store, asking.caller, token, Purpose.TRIP)
    with asking.read() as record:
        stops = _stops(record, link)
    return unreferred(asking.page("trip.html", link=link, stops=stops, token=token))


def _stops(record: Record, link: Link) -> list[Stop]:
    """The visits of the link's trip, those that are off too, in their order."""
    register = record.register()
    technician, start_on = link.scope["technician"], link.scope["start_on"]
    own = [
        visit
        for visit in register.visits.values()
        if visit.technician == technician and str(visit.trip_on) == start_on
    ]
    return [
        Stop(visit, register.sites[(visit.site,)], list(_tasks(register, visit)))
        for visit in in_time(register, own)
    ]


def _tasks(register: Register, visit: SiteVisit) -> Sequence[Task]:
    book, made = book_of(register), []
    names = present_names(register, visit.need_names)
    for name, written in zip(names, visit.need_names, strict=True):
        number, task = unit_and_task(name)
        unit = register.units[(number,)]
        kind = book.kinds.get(unit.kind)
        versions = kind.tasks(unit.model).get(task, ()) if kind else ()
        last = [
            r.on for r in register.reports.values() if (r.property_number, r.task) == (number, task)
        ]
        made.append(
            Task(
                unit,
                kind.name if kind else unit.kind,
                versions[0] if versions else None,
                task,
                max(last, default=None),
                visit.reasons.get(written, ""),
            )
        )
    return made


@PAGES.post("/t/<token>/<visit>", who=ANYBODY)
def report(token: str, visit: str) -> ResponseReturnValue:
    """Hand back the report of one stop; sent twice, it is one."""
    asking = asked()
    with wrong_links_counted(asking):
        link = open_link(asking.store, asking.caller, token, Purpose.TRIP)
    try:
        with asking.write() as record:
            stops = _stops(record, link)
            stop = next((s for s in stops if s.visit.number == visit), None) or abort(404)
            if stop.is_open:
                by = f"link:{link.scope['technician']}"
                stamp = Stamp(at=asking.now, by=by, source="link")
                outcome = _outcome(asking, stop)
                hand_back(
                    record,
                    asking.public_holidays,
                    visit,
                    outcome,
                    anyway=asking.is_meant,
                    stamp=stamp,
                )
                record.commit()
    except BadInput as error:
        again = asking.form_again(
            "trip.html",
            error.faults,
            link=link,
            stops=stops,
            token=token,
            typed=request.form,
            at=visit,
        )
        return unreferred(again)
    return unreferred(redirect(url_for("trip.trip", token=token) + f"#{visit}"))


def _outcome(asking: Asked, stop: Stop) -> Outcome:
    """What the form says of each unit of a stop."""
    not_done, findings, certificates = {}, {}, dict[str, AttachedFile]()
    for number in dict.fromkeys(task.unit.property_number for task in stop.tasks):
        if asking.field(f"state-{number}") == "not-done":
            not_done[number] = asking.field(f"why-{number}")
            continue
        if asking.field(f"state-{number}") != "done":
            problem = f"nothing is said of {number}"
            mend = "say whether it was serviced"
            raise BadInput([Fault("report", None, f"state-{number}", problem, mend)])
        if words := asking.field(f"findings-{number}"):
            findings[number] = words
        if (file := sent_certificate("report", f"certificate-{number}")) is not None:
            certificates[number] = file
    _refuse_reasonless(not_done)
    return Outcome(
        on=one_day("on", asking.field("on")),
        initials=asking.field("initials"),
        findings=findings,
        certificates=certificates,
        not_done=not_done,
    )


def _refuse_reasonless(not_done: Mapping[str, str]) -> None:
    faults = [
        Fault("report", None, f"why-{number}", f"no reason is given for {number}", "say why")
        for number, why in not_done.items()
        if not why
    ]
    if faults:
        raise BadInput(faults)
