"""Which mail waits, which did not arrive and why, and what can be done about it?"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Role
from fleet.errors import BadInput, Fault
from fleet.services.access.visitor import account_name
from fleet.services.mail_ports import AddressState, OutboxRow
from fleet.services.outbox import resume, retry, suppress
from fleet.services.ports import Record
from fleet.web.asked import Asked, asked
from fleet.web.fields import at_a_form, one_count, one_of
from fleet.web.routes import Pages
from fleet.web.setup_mail import mail_seen, may_see_mail
from fleet.web.who import OVERSEERS
from notifications.outbox import State

__all__ = ["PAGES"]

PAGES = Pages()

_SHOWN: Final = 50
_FIRST: Final = (State.DEAD, State.DEFERRED, State.SENDING, State.QUEUED)
"""What is not settled, what wants a person first."""


@PAGES.get("/setup/outbox", who=OVERSEERS)
def outbox() -> ResponseReturnValue:
    """The mail of five weeks: what waits or did not arrive, and with `state` any other."""
    asking = asked()
    with asking.read() as record:
        facts = _facts(asking, record)
    return asking.page("setup_outbox.html", **facts)


def _facts(asking: Asked, record: Record) -> dict[str, object]:
    page = one_count("page", request.args.get("page", ""), 1, 1, 10_000)
    word = request.args.get("state", "")
    state = one_of(State, "state", word) if word else None
    rows = mail_seen(asking, record)
    wanted = _FIRST if state is None else (state,)
    found = sorted(
        (row for row in rows if row.state in wanted), key=lambda r: wanted.index(r.state)
    )
    first = (page - 1) * _SHOWN
    return {
        "rows": found[first : first + _SHOWN],
        "count": len(found),
        "page": page,
        "has_more": len(found) > first + _SHOWN,
        "state": state,
        "counts": {one: sum(row.state is one for row in rows) for one in State},
        "addresses": _addresses(asking, record),
        "is_manager": Role.MANAGER in asking.visitor.roles,
    }


def _addresses(asking: Asked, record: Record) -> list[AddressState]:
    may = may_see_mail(asking, record)
    return [
        one for one in record.mail.addresses() if may is None or account_name(one.address) in may
    ]


def _does(done: str, act: Callable[[Asked, OutboxRow], object]) -> ResponseReturnValue:
    """Do something with one message that the visitor sees, and lead back."""
    asking = asked()
    with asking.read() as record:
        row = record.mail.row(asking.field("key"))
        may = may_see_mail(asking, record)
        if row is None or (may is not None and account_name(row.recipient) not in may):
            abort(404)
    return _tried(done, lambda: act(asking, row))


def _tried(done: str, act: Callable[[], object]) -> ResponseReturnValue:
    asking = asked()
    try:
        act()
    except BadInput as error:
        with asking.read() as record:
            facts = _facts(asking, record)
        return asking.form_again(
            "setup_outbox.html", [at_a_form(fault) for fault in error.faults], **facts
        )
    return redirect(url_for("setup_outbox.outbox", done=done))


@PAGES.post("/setup/outbox/retry", who=OVERSEERS)
def send_again() -> ResponseReturnValue:
    """Queue a message again."""
    return _does("retry", lambda asking, row: retry(asking.store, [row.key], asking.now))


@PAGES.post("/setup/outbox/take-back", who=OVERSEERS)
def take_back() -> ResponseReturnValue:
    """Do not send a message that waits, and say why."""

    def act(asking: Asked, row: OutboxRow) -> None:
        if not asking.field("why"):
            mend = "say why, so that others can read it"
            raise BadInput([Fault("outbox", None, "why", "no reason is given", mend)])
        suppress(asking.store, [row.key], asking.field("why"), asking.now)

    return _does("take-back", act)


@PAGES.post("/setup/outbox/resume", who=OVERSEERS)
def write_again() -> ResponseReturnValue:
    """Write again to an address that was suspended."""
    asking, address = asked(), asked().field("address")
    with asking.read() as record:
        if address not in [one.address for one in _addresses(asking, record)]:
            abort(404)
    return _tried("resume", lambda: resume(asking.store, address))
