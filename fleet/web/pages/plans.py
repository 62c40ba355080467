"""How does the manager plan visits, look at a plan, compare two, and change one by forms?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.jobs import JobFile
from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit, StoredPlan, TechnicianDaysOff, VisitState
from fleet.errors import BadInput, Fault
from fleet.services.jobs.queue import queue_job
from fleet.services.ports import Record
from fleet.services.visits import grading
from fleet.services.visits.kept_plan import TripKey, content_of, plan_named, trips_of
from fleet.services.visits.notices import Told, moved_or_gone
from fleet.services.visits.numbers import present_names, unit_and_task
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_day
from fleet.web.routes import Pages
from fleet.web.who import MANAGERS
from notifications.event_facts import Change
from schedules.visits.difference import difference

__all__ = ["PAGES"]

PAGES = Pages()

_EFFORTS: Final = {"quick": 20_000, "usual": 100_000, "thorough": 390_000}
_MOST_BYTES: Final = 1_000_000


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
        "from_on": first,
        "to_on": first.replace(year=first.year + 1, day=1) - dt.timedelta(days=1),
        "draft": asking.web.program.draw_token(),
    }


@PAGES.post("/program/plans/new", who=MANAGERS)
def new() -> ResponseReturnValue:
    """Queue the planning; its page says how far it is."""
    asking = asked()
    try:
        given, file = _asked_plan(asking)
        with asking.write() as record:
            number = asking.field("draft") or asking.web.program.draw_token()
            job = queue_job(record, number, "plan", given, asking.stamp(), file)
            record.commit()
    except BadInput as error:
        with asking.read() as record:
            facts = _new_facts(asking, record)
        typed = {name: asking.field(name) for name in ("from", "to", "effort", "of")}
        return asking.form_again("plan_new.html", error.faults, typed=typed, **facts)
    return redirect(url_for("jobs.job", number=job.number))


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
    """Make a plan that was tried once more, and keep it: from the same it is the same."""
    asking = asked()
    with asking.write() as record:
        tried = record.jobs.find(number)
        if tried is None or tried.by != asking.visitor.by or tried.kind != "plan":
            abort(404)
        sent = record.jobs.file(number, "plan.toml")
        files = [] if sent is None else [sent]
        asked_for = {**tried.asked, "keep": "yes"}
        job = queue_job(record, f"{number}-kept", "plan", asked_for, asking.stamp(), files)
        record.commit()
    return redirect(url_for("jobs.job", number=job.number))


@PAGES.get("/program/plans/<plan>", who=MANAGERS)
def plan(plan: str) -> ResponseReturnValue:
    """A plan, trip by trip, with the forms that change it."""
    asking = asked()
    with asking.read() as record:
        facts = _plan_facts(asking, record, plan)
    return asking.page("plan.html", **facts)


def _plan_facts(asking: Asked, record: Record, number: str) -> dict[str, object]:
    register = record.register()
    stored = plan_named(register, number)
    visits = [visit for visit in register.visits.values() if visit.plan == stored.number]
    trips = trips_of(register, visits)
    return {
        "plan": stored,
        "followed_by": next(
            (p.number for p in register.plans.values() if p.follows == stored.number), ""
        ),
        "trips": trips,
        "units": {visit.number: _units(register, visit) for visit in visits},
        "places": {site.site: site for site in register.sites.values()},
        "told": {
            (trip.technician, trip.starts_on): trip
            for trip in content_of(record, stored).told.trips
        },
        "technicians": sorted({key.technician for key in trips}),
        "is_open": any(visit.state is VisitState.PLANNED for visit in visits),
        "hidden": _off_days(register, trips),
        "today": asking.now.date(),
    }


def _units(register: Register, visit: SiteVisit) -> list[str]:
    names = present_names(register, visit.need_names)
    return list(dict.fromkeys(unit_and_task(name)[0] for name in names))


def _off_days(register: Register, trips: Mapping[TripKey, Sequence[SiteVisit]]) -> list[str]:
    """Visits that are planned for days which do not suit: reasons to make the plan anew."""
    told = []
    for visit in (one for some in trips.values() for one in some):
        if visit.state is not VisitState.PLANNED:
            continue
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
        number = asking.web.program.draw_token()
        job = queue_job(record, number, "pictures", {"plan": stored.number}, asking.stamp())
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


@PAGES.post("/program/plans/<plan>/visits", who=MANAGERS)
def grade(plan: str) -> ResponseReturnValue:
    """Announce, confirm, free or cancel the visits that are ticked."""
    from fleet.desk.confirming import confirmed, told_of

    asking, act = asked(), asked().field("act")
    numbers = asking.fields("visit")
    mails = 0
    with asking.write() as record:
        _refuse_other(record.register(), plan, numbers)
        stamp, holidays = asking.stamp(), asking.public_holidays
        if act == "confirm":
            mails = confirmed(asking.web.program, record, numbers, stamp).mails
        elif act == "announce":
            grading.announce(record, holidays, numbers, stamp)
        elif act == "free":
            grading.free(record, holidays, numbers, stamp)
        elif act == "cancel":
            why = asking.field("why")
            for number in numbers:
                graded = grading.cancel(record, holidays, number, why, stamp)
                told = [
                    Told(one, Change.CANCELLED, reason=why)
                    for one in graded.were
                    if one.told_on is not None
                ]
                mails += told_of(asking.web.program, record, told, stamp) if told else 0
        else:
            abort(400)
        record.commit()
    return redirect(url_for("plans.plan", plan=plan, done=act, mails=mails))


def _refuse_other(register: Register, plan: str, numbers: Sequence[str]) -> None:
    if not numbers:
        raise BadInput([Fault("plan", None, "visit", "no visit is ticked", "tick some")])
    for number in numbers:
        visit = register.visits.get((number,))
        if visit is None or visit.plan != plan:
            abort(404)


@PAGES.post("/program/plans/<plan>/days-off", who=MANAGERS)
def days_off(plan: str) -> ResponseReturnValue:
    """Keep days on which a technician cannot come."""
    asking = asked()
    with asking.write() as record:
        plan_named(record.register(), plan)
        from_on = one_day("from", asking.field("from"))
        to_on = one_day("to", asking.field("to") or asking.field("from"))
        days = TechnicianDaysOff(
            technician=asking.field("technician"),
            from_on=from_on,
            to_on=to_on,
            reason=asking.field("reason"),
        )
        grading.days_off(record, asking.public_holidays, days, asking.stamp())
        record.commit()
    return redirect(url_for("plans.plan", plan=plan, done="days-off") + "#anew")


@PAGES.post("/program/plans/<plan>/anew", who=MANAGERS)
def replan(plan: str) -> ResponseReturnValue:
    """Make the plan anew: first only to see what would change, then for good."""
    from fleet.desk.confirming import told_of
    from fleet.services.visits.replanning import replan as make_anew

    asking = asked()
    is_trial = asking.field("keep") != "yes"
    mails = 0
    with asking.write() as record:
        stored: StoredPlan = plan_named(record.register(), plan)
        given = asking.web.program.replanning(0)
        stamp = asking.stamp()
        result = make_anew(record, given, stamp, number=stored.number, is_trial=is_trial)
        if not is_trial:
            told = moved_or_gone(result.changes)
            mails = told_of(asking.web.program, record, told, stamp) if told else 0
            record.commit()
    if is_trial:
        return asking.page("plan_anew.html", plan=stored, result=result)
    number = result.plan.number if result.plan else stored.number
    return redirect(url_for("plans.plan", plan=number, done="anew", mails=mails))
