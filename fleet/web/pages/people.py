"""How do people get their accounts, and lose them? By whoever looks after them."""

from __future__ import annotations

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.services.access.accounts import disable, enable, end_second_factor, invite
from fleet.services.access.people import may_look_after, people_lines
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_count
from fleet.web.routes import Pages
from fleet.web.who import OVERSEERS

__all__ = ["PAGES"]

PAGES = Pages()

_SHOWN = 50
_ACTS = {"disable": disable, "enable": enable, "end-factor": end_second_factor}


@PAGES.get("/people", who=OVERSEERS)
def people() -> ResponseReturnValue:
    """Everybody whom the visitor looks after."""
    asking, wanted = asked(), request.args.get("find", "").strip()
    page = one_count("page", request.args.get("page", ""), 1, 1, 10_000)
    with asking.read() as record:
        register = record.register()
        lines = people_lines(register, record.access, asking.visitor)
    found = [line for line in lines if _fits(wanted, line.name, line.email, line.people)]
    first = (page - 1) * _SHOWN
    return asking.page(
        "people.html",
        lines=found[first : first + _SHOWN],
        count=len(found),
        wanted=wanted,
        page=page,
        has_more=len(found) > first + _SHOWN,
    )


def _fits(wanted: str, name: str, email: str, some: object) -> bool:
    text = f"{name} {email} {some}".casefold()
    return all(word in text for word in wanted.casefold().split())


@PAGES.post("/people/invite", who=OVERSEERS)
def make_invitation() -> ResponseReturnValue:
    """Make a link under which somebody sets a password; it is shown once."""
    asking, email = asked(), _address(asked())
    with asking.write() as record:
        path = invite(record, asking.caller, email, asking.visitor.email)
        record.commit()
    base = asking.web.program.settings.mail.base_url or request.host_url.rstrip("/")
    lines = [
        f"Send it to {email} alone: whoever opens it sets the password of that account.",
        "It fits once, for 24 hours.",
    ]
    page = asking.page(
        "shown_once.html",
        heading="A link to come in",
        secret=f"{base}{path}",
        lines=lines,
        back=url_for("people.people"),
    )
    return page, 200, {"Cache-Control": "no-store"}


@PAGES.post("/people/account", who=OVERSEERS)
def change_account() -> ResponseReturnValue:
    """Disable an account, let it in again, or end its second step."""
    asking, email = asked(), _address(asked())
    act = _ACTS.get(asking.field("act")) or abort(400)
    with asking.write() as record:
        act(record, asking.caller, email, asking.visitor.email)
        record.commit()
    return redirect(url_for("people.people", find=email, done=asking.field("act")))


def _address(asking: Asked) -> str:
    """The address of the form, if the visitor looks after it; else there is no such person."""
    email = asking.field("email")
    with asking.read() as record:
        if not may_look_after(record.register(), asking.visitor, email):
            abort(404)
    return email
