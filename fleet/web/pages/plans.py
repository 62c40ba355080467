"""How does the manager plan visits, look at a plan, and compare two?"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Final

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.jobs import Job, JobFile
from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit, VisitState
from fleet.errors import BadInput, Fault
from fleet.services.jobs.queue import queue_job
from fleet.services.ports import Record
from fleet.services.visits.kept_plan import TripKey, content_of, plan_named, trips_of
from fleet.services.visits.numbers import present_names, unit_and_task
from fleet.services.visits.planning import check_libraries
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_count, one_day
from fleet.web.planning_work import EXAMPLE, TRIED, number_of_pictures
from fleet.web.routes import Pages
from fleet.web.who import MANAGERS
from schedules.visits.difference import difference

__all__ = ["PAGES", "plan_facts"]

PAGES = Pages()

_EFFORTS: Final = {"quick": 20_000, "usual": 100_000, "thorough": 390_000}
_MOST_BYTES: Final = 1_000_000
_VISITS_A_PAGE: Final = 50


@PAGES.get("/program/plans/new", who=MANAGERS)
def new_page() -> ResponseReturnValue:
    """The form for a new plan."""
    asking = asked()
    with asking.read() as record:
        return asking.page("plan_new.html", **_new_facts(asking, record))


def _new_facts(asking: Asked, record: Record) -> dict[str, object]:
    plans = sorted(record.register().plans, reverse=True)
    first = asking.now.date() + dt.timedelta(days=1)
    return {
        "plans": [number for (number,) in plans],
        "example": EXAMPLE,
        "missing": _missing(),
        "from_on": first,
        "to_on": first.replace(year=first.year + 1, day=1) - dt.timedelta(days=1),
        "draft": asking.web.program.draw_token(),
    }


def _missing() -> str:
    """What keeps this program from planning at all; '' for nothing."""
    try:
        check_libraries()
    except BadInput as error:
        return "; ".join(f"{fault.problem}: {fault.mend}" for fault in error.faults)
    return ""


@PAGES.post("/program/plans/new", who=MANAGERS)
def new() -> ResponseReturnValue:
    """Queue the planning; its page says how far it is."""
    asking = asked()
    try:
        given, file = _asked_plan(asking)
        number = _number_of(asking.field("draft") or asking.web.program.draw_token(), given, file)
        with asking.write() as record:
            job = queue_job(record, number, "plan", given, asking.stamp(), file)
            record.commit()
    except BadInput as error:
        with asking.read() as record:
            facts = _new_facts(asking, record)
        typed = {name: asking.field(name) for name in ("from", "to", "effort", "of")}
        return asking.form_again("plan_new.html", error.faults, typed=typed, **facts)
    return redirect(url_for("jobs.job", number=job.number))


def _number_of(draft: str, given: Mapping[str, str], files: Sequence[JobFile]) -> str:
    """The number of what a form asks for: sent twice it is the same, changed it is another."""
    said = [draft, given, [hashlib.sha256(file.content).hexdigest() for file in files]]
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()[:40]


def _asked_plan(asking: Asked) -> tuple[Mapping[str, str], Sequence[JobFile]]:
    from_on, to_on = one_day("from", asking.field("from")), one_day("to", asking.field("to"))
    if to_on < from_on:
        raise BadInput([Fault("plan", None, "to", f"{to_on} is before {from_on}", "exchange them")])
    iterations = _EFFORTS.get(asking.field("effort")) or abort(400)
    given = {
        "from": str(from_on),
        "to": str(to_on),
        "iterations": str(iterations),
        "keep": "yes" if asking.field("keep") == "yes" else "no",
        "of": asking.field("of"),
    }
    sent = request.files.get("plan_file")
    if sent is None or not sent.filename:
        if not given["of"]:
            mend = "send one, or choose that of a plan which was kept"
            raise BadInput([Fault("plan", None, "plan_file", "there is no plan file", mend)])
        return given, ()
    content = sent.stream.read(_MOST_BYTES + 1)
    if len(content) > _MOST_BYTES:
        mend = "a plan file is a short text in TOML"
        raise BadInput([Fault("plan", None, "plan_file", "the file is too large", mend)])
    return given, [JobFile(name="plan.toml", media_type="text/plain", content=content)]


@PAGES.post("/program/plans/again/<number>", who=MANAGERS)
def again(number: str) -> ResponseReturnValue:
    """Keep a plan that was tried, or plan the same anew on the record as it is."""
    asking, how = asked(), "anew" if asked().field("anew") == "yes" else "kept"
    with asking.write() as record:
        tried = record.jobs.find(number)
        if tried is None or tried.kind != "plan" or "made" not in tried.result:
            abort(404)
        sent = record.jobs.file(number, "plan.toml")
        given = {name: value for name, value in tried.asked.items() if name != "tried"}
        given |= {"keep": "no"} if how == "anew" else _keeping(record, tried)
        files = [] if sent is None else [sent]
        job = queue_job(record, f"{number}-{how}", "plan", given, asking.stamp(), files)
        record.commit()
    return redirect(url_for("jobs.job", number=job.number))


def _keeping(record: Record, tried: Job) -> Mapping[str, str]:
    """Which plan is kept: that of a job which has its file still, as it was looked at."""
    if record.jobs.file(tried.number, TRIED) is None or "changed" in tried.result:
        abort(404)
    return {"keep": tried.result["made"], "tried": tried.number}


@PAGES.get("/program/plans/<plan>", who=MANAGERS)
def plan(plan: str) -> ResponseReturnValue:
    """A plan, trip by trip, with the forms that change it."""
    asking = asked()
    with asking.read() as record:
        facts = plan_facts(asking, record, plan)
    return asking.page("plan.html", **facts)


def plan_facts(asking: Asked, record: Record, number: str) -> dict[str, object]:
    """What a plan's page shows."""
    register = record.register()
    stored = plan_named(register, number)
    visits = [visit for visit in register.visits.values() if visit.plan == stored.number]
    trips = trips_of(register, visits)
    pages = _pages(trips)
    turn = one_count("page", request.args.get("page", ""), _first_open(trips, pages), 1, len(pages))
    to_come = [visit for visit in visits if visit.state is VisitState.PLANNED]
    return {
        "plan": stored,
        "followed_by": next(
            (p.number for p in register.plans.values() if p.follows == stored.number), ""
        ),
        "trips": {key: trips[key] for key in pages[turn - 1]},
        "turn": turn,
        "turns": len(pages),
        "units": {visit.number: _units(register, visit) for visit in visits},
        "places": {site.site: site for site in register.sites.values()},
        "told": {
            (trip.technician, trip.starts_on): trip
            for trip in content_of(record, stored).told.trips
        },
        "technicians": sorted({key.technician for key in trips}),
        "to_come": to_come,
        "sites": sorted({visit.site for visit in to_come}),
        "hidden": _off_days(register, to_come),
        "drawn": record.jobs.find(number_of_pictures(stored.number)),
        "missing": _missing(),
        "today": asking.now.date(),
    }


def _pages(trips: Mapping[TripKey, Sequence[SiteVisit]]) -> list[list[TripKey]]:
    """The trips of each page: whole ones, no more visits than a page is to have."""
    pages: list[list[TripKey]] = [[]]
    room = _VISITS_A_PAGE
    for key, some in trips.items():
        if pages[-1] and room < len(some):
            pages.append([])
            room = _VISITS_A_PAGE
        pages[-1].append(key)
        room -= len(some)
    return pages


def _first_open(
    trips: Mapping[TripKey, Sequence[SiteVisit]], pages: Sequence[Sequence[TripKey]]
) -> int:
    """The page of the first trip with a visit to come, counted from 1; else the first one."""
    for turn, page in enumerate(pages, 1):
        if any(one.state is VisitState.PLANNED for key in page for one in trips[key]):
            return turn
    return 1


def _units(register: Register, visit: SiteVisit) -> list[str]:
    names = present_names(register, visit.need_names)
    return list(dict.fromkeys(unit_and_task(name)[0] for name in names))


def _off_days(register: Register, to_come: Sequence[SiteVisit]) -> list[str]:
    """Visits that are planned for days which do not suit: reasons to make the plan anew."""
    told = []
    for visit in to_come:
        for days in register.unsuitable_days.values():
            if days.site == visit.site and days.from_on <= visit.on <= days.to_on:
                told.append(f"{visit.number}: {visit.site} wants no visit then ({days.reason})")
        for off in register.technician_days_off.values():
            if off.technician == visit.technician and off.from_on <= visit.on <= off.to_on:
                told.append(f"{visit.number}: {visit.technician} cannot come ({off.reason})")
    return told


@PAGES.post("/program/plans/<plan>/draw", who=MANAGERS)
def draw(plan: str) -> ResponseReturnValue:
    """Queue the drawing of a plan's pictures."""
    asking = asked()
    with asking.write() as record:
        stored = plan_named(record.register(), plan)
        given = {"plan": stored.number, "of": ""}
        number = number_of_pictures(stored.number)
        standing = record.jobs.find(number)
        if standing is not None:
            given = dict(standing.asked)
        job = queue_job(record, number, "pictures", given, asking.stamp())
        record.commit()
    return redirect(url_for("jobs.job", number=job.number))


@PAGES.get("/program/compare", who=MANAGERS)
def compare() -> ResponseReturnValue:
    """How one plan differs from another."""
    asking = asked()
    with asking.read() as record:
        register = record.register()
        before, after = (
            plan_named(register, request.args.get(name, "")) for name in ("before", "after")
        )
        found = difference(content_of(record, before).told, content_of(record, after).told)
    return asking.page("plan_compare.html", before=before, after=after, found=found)
