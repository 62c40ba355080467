"""What can be done to a unit: bring it back, record its service, move it, retire it?"""

from __future__ import annotations

from collections.abc import Callable

from flask import redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.evidence import Effect, ServiceReport
from fleet.domain.records import Role, Unit
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault
from fleet.services.actions import carry_on, review, the_action
from fleet.services.columns import book_of
from fleet.services.life.ends import retire
from fleet.services.life.moves import move
from fleet.services.life.numbers import renumber
from fleet.services.life.outages import back, broken
from fleet.services.outages import outage_on
from fleet.services.ports import Record
from fleet.services.service import record_service
from fleet.services.standing import site_of, today_of
from fleet.web.asked import Asked, asked
from fleet.web.certificates import sent_certificate
from fleet.web.fields import at_a_form, one_day, one_of
from fleet.web.routes import Pages
from fleet.web.who import LEADS, OVERSEERS

__all__ = ["PAGES"]

PAGES = Pages()


@PAGES.get("/units/<path:number>/acts", who=LEADS)
def acts(number: str) -> ResponseReturnValue:
    """The forms."""
    asking = asked()
    with asking.read() as record:
        facts = _facts(asking, record, number)
    return asking.page("unit_acts.html", **facts)


def _facts(asking: Asked, record: Record, number: str) -> dict[str, object]:
    register = record.register()
    unit = asking.unit(register, number, *LEADS)
    today = today_of(register, unit, asking.now)
    stands = site_of(register, unit, today)
    own = asking.visitor.sites(Role.CONSULTANT, Role.MANAGER)
    return {
        "unit": unit,
        "site": register.sites[(stands,)],
        "today": today,
        "outage": outage_on(register, unit, today),
        "tasks": _dated_tasks(register, unit),
        "may_manage": stands in own,
        "sites": sorted(
            (s for s in register.sites.values() if s.site in own and s.site != stands),
            key=lambda site: site.name or site.site,
        ),
        "actions": [
            action
            for action in register.actions.values()
            if action.property_number == unit.property_number and action.closed_on is None
        ],
    }


def _dated_tasks(register: Register, unit: Unit) -> list[tuple[str, str]]:
    """The tasks that count from the day they were done, the vendor's first, with their titles."""
    kind = book_of(register).kinds.get(unit.kind)
    versions = kind.tasks(unit.model).items() if kind else ()
    dated = [(not some[0].vendor, task, some[0].title) for task, some in versions if some[0].every]
    return [(task, title) for _, task, title in sorted(dated)]


Act = Callable[[Asked, Record, Unit], None]


def _does(number: str, done: str, act: Act, *roles: Role) -> ResponseReturnValue:
    """Do something to a unit that the visitor may do it to, and lead back to its page."""
    asking = asked()
    try:
        with asking.write() as record:
            unit = asking.unit(record.register(), number, *roles)
            act(asking, record, unit)
            record.commit()
    except BadInput as error:
        faults = [at_a_form(fault) for fault in error.faults]
        with asking.read() as record:
            facts = _facts(asking, record, number)
        return asking.form_again("unit_acts.html", faults, typed=request.form, at=done, **facts)
    return redirect(url_for("units.unit", number=unit.property_number, done=done))


@PAGES.post("/units/<path:number>/back", who=LEADS)
def bring_back(number: str) -> ResponseReturnValue:
    """Bring a unit back into service."""

    def act(asking: Asked, record: Record, unit: Unit) -> None:
        on, stamp = one_day("on", asking.field("on")), asking.stamp()
        name = unit.property_number
        back(record, asking.public_holidays, name, on, anyway=asking.is_meant, stamp=stamp)

    return _does(number, "back", act, *LEADS)


@PAGES.post("/units/<path:number>/broken", who=LEADS)
def put_out(number: str) -> ResponseReturnValue:
    """Put a unit out of service."""

    def act(asking: Asked, record: Record, unit: Unit) -> None:
        on, why = one_day("on", asking.field("on")), asking.field("why")
        broken(
            record,
            asking.public_holidays,
            unit.property_number,
            on,
            why,
            anyway=asking.is_meant,
            stamp=asking.stamp(),
        )

    return _does(number, "broken", act, *LEADS)


@PAGES.post("/units/<path:number>/service", who=LEADS)
def service(number: str) -> ResponseReturnValue:
    """Record a service with its report and certificate."""

    def act(asking: Asked, record: Record, unit: Unit) -> None:
        words = {name: asking.field(name) for name in ("task", "vendor", "technician", "findings")}
        on = one_day("on", asking.field("on"))
        report = ServiceReport(property_number=unit.property_number, on=on, **words)
        record_service(
            record,
            asking.public_holidays,
            report,
            sent_certificate("service", "certificate"),
            initials=asking.field("initials"),
            anyway=asking.is_meant,
            stamp=asking.stamp(),
        )

    return _does(number, "service", act, *LEADS)


@PAGES.post("/units/<path:number>/move", who=OVERSEERS)
def move_unit(number: str) -> ResponseReturnValue:
    """Move a unit to another of the visitor's sites, or lend it until a day."""

    def act(asking: Asked, record: Record, unit: Unit) -> None:
        to = asking.site(record.register(), asking.field("site"), *OVERSEERS)
        on, until = one_day("on", asking.field("on")), asking.field("until")
        until_on = one_day("until", until) if until else None
        move(
            record,
            asking.public_holidays,
            unit.property_number,
            to.site,
            on,
            until_on,
            anyway=asking.is_meant,
            stamp=asking.stamp(),
        )

    return _does(number, "moved", act, *OVERSEERS)


@PAGES.post("/units/<path:number>/retire", who=OVERSEERS)
def retire_unit(number: str) -> ResponseReturnValue:
    """Take a unit out of service for good."""

    def act(asking: Asked, record: Record, unit: Unit) -> None:
        on, stamp = one_day("on", asking.field("on")), asking.stamp()
        name = unit.property_number
        retire(record, asking.public_holidays, name, on, anyway=asking.is_meant, stamp=stamp)

    return _does(number, "retired", act, *OVERSEERS)


@PAGES.post("/units/<path:number>/number", who=OVERSEERS)
def number_anew(number: str) -> ResponseReturnValue:
    """Give a unit another property number."""
    new = asked().field("new")

    def act(asking: Asked, record: Record, unit: Unit) -> None:
        stamp = asking.stamp()
        renumber(record, asking.public_holidays, unit.property_number, new, None, stamp=stamp)

    answer = _does(number, "numbered", act, *OVERSEERS)
    # What could not be done is a page with its status; what was leads to the new number.
    if isinstance(answer, tuple):
        return answer
    return redirect(url_for("units.unit", number=new, done="numbered"))


@PAGES.post("/units/<path:number>/problem", who=LEADS)
def problem(number: str) -> ResponseReturnValue:
    """Carry a corrective action on, or say whether it worked."""

    def act(asking: Asked, record: Record, unit: Unit) -> None:
        action = the_action(record.register(), asking.field("action_number"))
        if action.property_number != unit.property_number:
            mend = "load the page again"
            raise BadInput([Fault("action", None, "action", "it is of another unit", mend)])
        stamp, name = asking.stamp(), asking.visitor.name
        if asking.field("effective"):
            effect = one_of(Effect, "effective", asking.field("effective"))
            review(record, action.number, effect, name, stamp=stamp)
        else:
            review_on = one_day("review_on", asking.field("review_on"))
            what, who = asking.field("action"), asking.field("by") or name
            carry_on(record, action.number, what, who, review_on, stamp=stamp)

    return _does(number, "problem", act, *LEADS)
