"""What does one person answer for, who stands in, when are they away, and may they come in?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import cast

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Person, Role
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault
from fleet.files.form_rows import form_row
from fleet.services.absences import be_away, be_back
from fleet.services.access.api_tokens import end_token, live_tokens
from fleet.services.access.people import may_look_after, people_lines
from fleet.services.access.visitor import account_name, people_of
from fleet.services.mailing.readers import address_of
from fleet.services.ports import Record
from fleet.services.setup.people import (
    GIVEN_BY_CONSULTANTS,
    change_person,
    end_role,
    give_role,
    may_give,
    sign_out,
)
from fleet.web.asked import Asked, asked
from fleet.web.fields import at_a_form, one_day
from fleet.web.routes import Pages
from fleet.web.who import OVERSEERS
from notifications.languages import LANGUAGES

__all__ = ["PAGES"]

PAGES = Pages()

Act = Callable[[Asked, Record, str], None]
_LANGUAGE_NAMES = {"en": "English", "es": "Spanish"}


@PAGES.get("/setup/new-person", who=OVERSEERS)
def new_page() -> ResponseReturnValue:
    """The form for somebody who has no role yet."""
    asking = asked()
    with asking.read() as record:
        facts = _choices(asking, record.register())
    return asking.page("setup_new_person.html", typed=request.args, **facts)


def _choices(asking: Asked, register: Register) -> dict[str, object]:
    """What a form for roles offers this visitor."""
    is_manager = Role.MANAGER in asking.visitor.roles
    own = asking.visitor.sites(*OVERSEERS)
    places = [register.sites[(name,)] for name in own]
    roles = [role for role in Role if is_manager or role in GIVEN_BY_CONSULTANTS]
    return {
        "roles": roles,
        "sites": sorted(places, key=lambda site: (site.name or site.site).casefold()),
        "regions": sorted({site.region for site in places if site.region}) if is_manager else [],
        "languages": {code: _LANGUAGE_NAMES.get(code, code) for code in LANGUAGES},
        "is_manager": is_manager,
    }


@PAGES.post("/setup/new-person", who=OVERSEERS)
def new() -> ResponseReturnValue:
    """Give somebody a first role."""
    asking = asked()
    try:
        person = _person(asking, asking.field("email"), asking.field("name"))
        with asking.write() as record:
            give_role(record, asking.public_holidays, person, asking.stamp())
            record.commit()
    except BadInput as error:
        with asking.read() as record:
            facts = _choices(asking, record.register())
        faults = [at_a_form(fault) for fault in error.faults]
        return asking.form_again("setup_new_person.html", faults, typed=request.form, **facts)
    email = account_name(person.email)
    return redirect(url_for("setup_people.person", email=email, done="new"))


def _person(asking: Asked, email: str, name: str) -> Person:
    """The role that a form gives; not there where it is not this visitor's to give."""
    given = {
        "email": email,
        "name": name,
        **{
            field: asking.field(field) for field in ("role", "site", "region", "language", "deputy")
        },
    }
    person = cast(Person, form_row("people", given))
    if person.site and person.site not in asking.visitor.sites(*OVERSEERS):
        abort(404)
    if person.role is Role.BENCH and not (person.site or person.region):
        raise BadInput([Fault("people", None, "site", "a bench is at a site", "choose it")])
    if not may_give(asking.visitor, person):
        mend = "choose site lead or bench, and one of your sites; a manager gives the others"
        problem = f"it is not yours to make somebody {person.role} there"
        raise BadInput([Fault("people", None, "role", problem, mend)])
    return person


@PAGES.get("/setup/people/<email>", who=OVERSEERS)
def person(email: str) -> ResponseReturnValue:
    """Everything about one address."""
    asking = asked()
    with asking.read() as record:
        facts = _facts(asking, record, email)
    return asking.page("setup_person.html", **facts)


def _facts(asking: Asked, record: Record, email: str) -> dict[str, object]:
    register = record.register()
    name = _own(asking, register, email)
    lines = people_lines(register, record.access, asking.visitor)
    line = next((one for one in lines if one.email == name), None)
    people = people_of(register, name)
    distinct = list({person.key[1:]: person for person in people}.values())
    today = asking.now.date()
    absences = [a for a in register.absences.values() if address_of(a.email) == address_of(name)]
    known = [person for person in people if person.name] or people
    return {
        "email": name,
        "about": known[0],
        "people": distinct,
        "may_end": {one.key: may_give(asking.visitor, one) for one in distinct},
        "line": line,
        "is_self": name == asking.visitor.email,
        "sessions": len(record.access.sessions_of(name)) if line else 0,
        "tokens": live_tokens(record.access, name, asking.now) if line else [],
        "absences": sorted((a for a in absences if a.to_on >= today), key=lambda a: a.from_on),
        "today": today,
        "places": {site.site: site for site in register.sites.values()},
        **_choices(asking, register),
    }


def _own(asking: Asked, register: Register, email: str) -> str:
    """The address of somebody the visitor looks after, or their own; else there is nobody."""
    name = account_name(email)
    is_known = bool(people_of(register, name))
    if not is_known or not (
        name == asking.visitor.email or may_look_after(register, asking.visitor, name)
    ):
        abort(404)
    return name


def _does(email: str, done: str, act: Act, *, of_oneself: bool = False) -> ResponseReturnValue:
    """Do something about a person and lead back to the page, or show what is wrong with it."""
    asking = asked()
    try:
        with asking.write() as record:
            name = _own(asking, record.register(), email)
            if not of_oneself and not may_look_after(record.register(), asking.visitor, name):
                abort(404)
            act(asking, record, name)
            is_left = bool(people_of(record.register(), name))
            record.commit()
    except BadInput as error:
        with asking.read() as record:
            facts = _facts(asking, record, email)
        places = {"deputy": "stand-in"} if done == "away" else None
        faults = [at_a_form(fault, places) for fault in error.faults]
        return asking.form_again("setup_person.html", faults, typed=request.form, at=done, **facts)
    if not is_left:
        return redirect(url_for("people.people", done="no-role"))
    return redirect(url_for("setup_people.person", email=name, done=done))


@PAGES.post("/setup/people/<email>", who=OVERSEERS)
def change(email: str) -> ResponseReturnValue:
    """Write name, language, time zone and deputy."""

    def act(asking: Asked, record: Record, name: str) -> None:
        fields = ("name", "language", "time_zone", "deputy")
        given = {field: asking.field(field) for field in fields}
        said = form_row("people", {"email": name, "role": Role.BENCH.value, **given})
        holidays = asking.public_holidays
        change_person(record, holidays, name, cast(Person, said), asking.stamp())

    return _does(email, "person", act)


@PAGES.post("/setup/people/<email>/roles", who=OVERSEERS)
def roles(email: str) -> ResponseReturnValue:
    """Give one more role, or end one."""

    def act(asking: Asked, record: Record, name: str) -> None:
        standing = people_of(record.register(), name)
        if asking.field("act") == "end":
            ended = _named(asking, standing)
            end_role(record, asking.public_holidays, ended, asking.stamp())
            return
        address = next(person.email for person in standing)
        called = next((person.name for person in standing if person.name), address)
        given = _person(asking, address, called)
        give_role(record, asking.public_holidays, given, asking.stamp())

    return _does(email, "roles", act)


def _named(asking: Asked, standing: Sequence[Person]) -> Person:
    """The role that a form names, if it is the visitor's to end."""
    wanted = tuple(asking.field(field) for field in ("role", "site", "region"))
    found = next((person for person in standing if person.key[1:] == wanted), None)
    if found is None or not may_give(asking.visitor, found):
        abort(404)
    return found


@PAGES.post("/setup/people/<email>/away", who=OVERSEERS)
def away(email: str) -> ResponseReturnValue:
    """Note an absence, or end one."""

    def act(asking: Asked, record: Record, name: str) -> None:
        address = next(person.email for person in people_of(record.register(), name))
        holidays, stamp = asking.public_holidays, asking.stamp()
        if asking.field("act") == "back":
            be_back(record, holidays, address, one_day("back", asking.field("back")), stamp)
            return
        from_on, to_on = one_day("from", asking.field("from")), one_day("to", asking.field("to"))
        if to_on < from_on:
            raise BadInput(
                [Fault("away", None, "to", f"{to_on} is before {from_on}", "exchange them")]
            )
        be_away(record, holidays, address, from_on, to_on, asking.field("deputy"), stamp)

    return _does(email, "away", act, of_oneself=True)


@PAGES.post("/setup/people/<email>/sign-out", who=OVERSEERS)
def end_sessions(email: str) -> ResponseReturnValue:
    """End every browser that is signed in to the account."""

    def act(asking: Asked, record: Record, name: str) -> None:
        sign_out(record, asking.caller, name, asking.visitor.email)

    return _does(email, "sign-out", act)


@PAGES.post("/setup/people/<email>/token", who=OVERSEERS)
def end_tokens(email: str) -> ResponseReturnValue:
    """End a token of the account, by its number."""

    def act(asking: Asked, record: Record, name: str) -> None:
        number, by = asking.field("number"), asking.visitor.email
        if not end_token(record, asking.caller, name, number, by):
            abort(404)

    return _does(email, "token", act)
