"""How does the manager change a plan: how firm visits stand, days off, and making it anew?"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Role
from fleet.domain.register import Register
from fleet.domain.visits import TechnicianDaysOff, UnsuitableDays
from fleet.errors import BadInput, Fault
from fleet.services.jobs.queue import queue_job
from fleet.services.ports import Record
from fleet.services.visits import grading
from fleet.services.visits.kept_plan import plan_named
from fleet.services.visits.notices import Told
from fleet.web.asked import Asked, asked
from fleet.web.fields import at_a_form, one_day
from fleet.web.pages.plans import plan_facts
from fleet.web.routes import Pages
from fleet.web.who import MANAGERS
from notifications.event_facts import Change

__all__ = ["PAGES"]

PAGES = Pages()

_TYPED = ("who", "from", "to", "reason", "why")
_FIELD_OF = {"days-off": {"why": "reason", "technician": "who"}}
_OF_VISITS = {"confirm": "visit", "number": "visit"}
"""Where on the page the faults of the services belong."""


def _acted(plan: str, done: str, act: Callable[[Asked, Record], int]) -> ResponseReturnValue:
    """Do an act on a plan and show it; what is wrong with the form is said on the same page."""
    asking = asked()
    try:
        with asking.write() as record:
            plan_named(record.register(), plan)
            mails = act(asking, record)
            record.commit()
    except BadInput as error:
        with asking.read() as record:
            facts = plan_facts(asking, record, plan)
        faults = [at_a_form(fault, _FIELD_OF.get(done, _OF_VISITS)) for fault in error.faults]
        typed = {name: asking.field(name) for name in _TYPED}
        ticked = asking.fields("visit")
        return asking.form_again("plan.html", faults, typed=typed, ticked=ticked, **facts)
    page = request.args.get("page")
    return redirect(url_for("plans.plan", plan=plan, page=page, done=done, mails=mails))


@PAGES.post("/program/plans/<plan>/visits", who=MANAGERS)
def grade(plan: str) -> ResponseReturnValue:
    """Announce, confirm, free or cancel the visits that are ticked."""
    act = _GRADES.get(asked().field("act")) or abort(400)

    def graded(asking: Asked, record: Record) -> int:
        numbers = asking.fields("visit")
        _refuse_other(record.register(), plan, numbers)
        return act(asking, record, numbers)

    return _acted(plan, asked().field("act"), graded)


def _refuse_other(register: Register, plan: str, numbers: Sequence[str]) -> None:
    if not numbers:
        raise BadInput([Fault("plan", None, "visit", "no visit is ticked", "tick some")])
    for number in numbers:
        visit = register.visits.get((number,))
        if visit is None or visit.plan != plan:
            abort(404)


def _announce(asking: Asked, record: Record, numbers: Sequence[str]) -> int:
    grading.announce(record, asking.public_holidays, numbers, asking.stamp())
    return 0


def _confirm(asking: Asked, record: Record, numbers: Sequence[str]) -> int:
    from fleet.desk.confirming import confirmed

    return confirmed(asking.web.program, record, numbers, asking.stamp()).mails


def _free(asking: Asked, record: Record, numbers: Sequence[str]) -> int:
    grading.free(record, asking.public_holidays, numbers, asking.stamp())
    return 0


def _cancel(asking: Asked, record: Record, numbers: Sequence[str]) -> int:
    """Cancel visits; of those that were told, tell that nobody comes."""
    from fleet.desk.confirming import told_of

    why, stamp, told = asking.field("why"), asking.stamp(), list[Told]()
    for number in numbers:
        graded = grading.cancel(record, asking.public_holidays, number, why, stamp)
        told += [
            Told(one, Change.CANCELLED, reason=why)
            for one in graded.were
            if one.told_on is not None
        ]
    return told_of(asking.web.program, record, told, stamp) if told else 0


_GRADES = {"announce": _announce, "confirm": _confirm, "free": _free, "cancel": _cancel}


@PAGES.post("/program/plans/<plan>/days-off", who=MANAGERS)
def days_off(plan: str) -> ResponseReturnValue:
    """Keep days on which a technician cannot come, or a site wants no visit."""

    def keep(asking: Asked, record: Record) -> int:
        sort, _, name = asking.field("who").partition("/")
        from_on = one_day("from", asking.field("from"))
        to_on = one_day("to", asking.field("to") or asking.field("from"))
        reason, stamp, holidays = asking.field("reason"), asking.stamp(), asking.public_holidays
        if sort == "site":
            site = asking.site(record.register(), name, Role.MANAGER).site
            days = UnsuitableDays(site=site, from_on=from_on, to_on=to_on, reason=reason)
            grading.unsuitable(record, holidays, days, stamp)
        else:
            off = TechnicianDaysOff(technician=name, from_on=from_on, to_on=to_on, reason=reason)
            grading.days_off(record, holidays, off, stamp)
        return 0

    return _acted(plan, "days-off", keep)


@PAGES.post("/program/plans/<plan>/anew", who=MANAGERS)
def replan(plan: str) -> ResponseReturnValue:
    """Make the plan anew, to be looked at; or as it was looked at, for good."""
    asking, tried_number = asked(), asked().field("tried")
    with asking.write() as record:
        stored = plan_named(record.register(), plan)
        number, keep = asking.web.program.draw_token(), "no"
        if tried_number:
            tried = record.jobs.find(tried_number)
            if tried is None or tried.kind != "anew" or tried.asked["plan"] != stored.number:
                abort(404)
            number, keep = f"{tried_number}-kept", tried.result["made"]
        given = {"plan": stored.number, "keep": keep}
        job = queue_job(record, number, "anew", given, asking.stamp())
        record.commit()
    return redirect(url_for("jobs.job", number=job.number))
