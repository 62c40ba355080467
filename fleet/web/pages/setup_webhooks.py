"""How does a manager have other programs told by webhook, and see whether it arrives?"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final, TypeVar

from flask import abort, redirect, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.access import Act
from fleet.domain.webhooks import FORMER_SECRET_FOR, Webhook
from fleet.errors import BadInput, NotFound
from fleet.services.outbox import retry, suppress
from fleet.services.ports import Record
from fleet.services.webhook_ports import DeliveryRow
from fleet.services.webhooks.subscriptions import (
    Asked,
    check_address,
    draw_another,
    end,
    live,
    regions,
    subscribe,
    try_out,
)
from fleet.web.asked import Asked as Asking
from fleet.web.asked import asked
from fleet.web.fields import at_a_form
from fleet.web.routes import Pages
from fleet.web.who import MANAGERS
from notifications.outbox import State

__all__ = ["PAGES"]

PAGES = Pages()

Value = TypeVar("Value")

_SHOWN: Final = 10
"""So many of the last messages of each."""


@PAGES.get("/setup/webhooks", who=MANAGERS)
def webhooks() -> ResponseReturnValue:
    """Each subscription with its last messages, and the form that adds one."""
    asking = asked()
    return asking.page("setup_webhooks.html", **_facts(asking))


def _facts(asking: Asking) -> dict[str, object]:
    with asking.read() as record:
        some = live(record)
        rows: Mapping[str, Sequence[DeliveryRow]] = {
            one.number: record.webhooks.rows(webhook=one.number, count=_SHOWN) for one in some
        }
        return {
            "webhooks": some,
            "rows": rows,
            "regions": [(name, name) for name in regions(record.register())],
            "now": asking.now,
            "shown": _SHOWN,
        }


@PAGES.post("/setup/webhooks/add", who=MANAGERS)
def add() -> ResponseReturnValue:
    """Subscribe an address; its secret is shown once."""
    asking = asked()
    wanted = Asked(
        url=asking.field("url"),
        region=asking.field("region"),
        tells_overdue="overdue" in asking.fields("events"),
        tells_services="services" in asking.fields("events"),
    )
    program = asking.web.program
    try:
        check_address(program.call_door().guard, wanted.url)
        with asking.write() as record:
            made = subscribe(
                record,
                asking.web.board.view(record, asking.now),
                wanted,
                number=program.draw_number(),
                key=program.draw_key(),
                by=asking.visitor.email,
                base_url=program.settings.mail.base_url,
                now=asking.now,
            )
            _log(asking, record, Act.WEBHOOK_MADE, made)
            record.commit()
    except BadInput as error:
        faults = [at_a_form(fault) for fault in error.faults]
        return asking.form_again("setup_webhooks.html", faults, typed=wanted, **_facts(asking))
    lines = (
        f"Give it to {made.url}: what comes from here is signed with it (Standard Webhooks).",
        "What is overdue now, and what was serviced before, is not told.",
    )
    return _once(asking, "The secret of the webhook", made, lines)


@PAGES.post("/setup/webhooks/secret", who=MANAGERS)
def secret() -> ResponseReturnValue:
    """Draw another secret; the former one signs beside it for a while."""
    asking = asked()
    with asking.write() as record:
        key = asking.web.program.draw_key()
        changed = _found(lambda: draw_another(record, asking.field("number"), key, asking.now))
        _log(asking, record, Act.WEBHOOK_SECRET, changed)
        record.commit()
    hours = FORMER_SECRET_FOR.total_seconds() / 3600
    lines = (
        f"Give it to {changed.url} within {hours:.0f} hours: until then each message is signed with"
        " the former secret too, and from then on with this one alone.",
    )
    return _once(asking, "The new secret of the webhook", changed, lines)


@PAGES.post("/setup/webhooks/try", who=MANAGERS)
def try_it() -> ResponseReturnValue:
    """Send a test now and say how it went."""
    asking = asked()
    number, program = asking.field("number"), asking.web.program
    row = _found(
        lambda: try_out(
            asking.store,
            program.call_door(),
            number,
            program.draw_token(),
            program.owner,
            program.clock,
        )
    )
    with asking.write() as record:
        about = f"{row.url}: {row.state}"
        asking.caller.log(record.access, Act.WEBHOOK_TRIED, asking.visitor.email, about)
        record.commit()
    done = {State.SENT: "arrived", State.DEFERRED: "not-now", State.DEAD: "refused"}
    return redirect(url_for("setup_webhooks.webhooks", done=done.get(row.state, "on-its-way")))


@PAGES.post("/setup/webhooks/end", who=MANAGERS)
def end_it() -> ResponseReturnValue:
    """Send nothing more."""
    asking = asked()
    with asking.write() as record:
        ended = _found(lambda: end(record, asking.field("number"), asking.now))
        _log(asking, record, Act.WEBHOOK_ENDED, ended)
        record.commit()
    return redirect(url_for("setup_webhooks.webhooks", done="ended"))


@PAGES.post("/setup/webhooks/send-again", who=MANAGERS)
def send_again() -> ResponseReturnValue:
    """Queue a message again that did not arrive."""
    asking = asked()
    row = _message(asking)
    return _settled(
        asking, row, Act.WEBHOOK_RESENT, "again", lambda: retry(asking.store, [row.key], asking.now)
    )


@PAGES.post("/setup/webhooks/take-back", who=MANAGERS)
def take_back() -> ResponseReturnValue:
    """Do not send a message that waits."""
    asking = asked()
    row, why = _message(asking), f"taken back by {asking.visitor.email}"
    return _settled(
        asking,
        row,
        Act.WEBHOOK_TAKEN_BACK,
        "taken-back",
        lambda: suppress(asking.store, [row.key], why, asking.now),
    )


def _message(asking: Asking) -> DeliveryRow:
    with asking.read() as record:
        row = record.webhooks.row(asking.field("key")) if len(asking.field("key")) == 32 else None
        if row is None or row.webhook not in [one.number for one in live(record)]:
            abort(404)
    return row


def _settled(
    asking: Asking, row: DeliveryRow, act: Act, done: str, settle: Callable[[], object]
) -> ResponseReturnValue:
    """Do something with one message, and lead back."""
    try:
        settle()
    except BadInput as error:
        faults = [at_a_form(fault) for fault in error.faults]
        return asking.form_again("setup_webhooks.html", faults, **_facts(asking))
    with asking.write() as record:
        asking.caller.log(record.access, act, asking.visitor.email, f"{row.url}: {row.subject}")
        record.commit()
    return redirect(url_for("setup_webhooks.webhooks", done=done))


def _found(ask: Callable[[], Value]) -> Value:
    """What is asked for; there is no such page where it is not there."""
    try:
        return ask()
    except NotFound:
        abort(404)


def _log(asking: Asking, record: Record, act: Act, webhook: Webhook) -> None:
    asking.caller.log(record.access, act, asking.visitor.email, webhook.url)


def _once(
    asking: Asking, heading: str, webhook: Webhook, lines: Sequence[str]
) -> ResponseReturnValue:
    page = asking.page(
        "shown_once.html",
        heading=heading,
        secret=webhook.secret,
        lines=lines,
        back=url_for("setup_webhooks.webhooks"),
    )
    return page, 200, {"Cache-Control": "no-store"}
