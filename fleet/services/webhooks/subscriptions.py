"""How does somebody subscribe to webhooks, draw another secret, try one out, and end it?

A secret is drawn here and shown once. What is done is noted in the access log by whoever serves the
page; the caller commits.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from fleet.domain.register import Register
from fleet.domain.webhooks import FORMER_SECRET_FOR, Webhook
from fleet.errors import BadInput, Fault, NotFound
from fleet.services.board import BoardView
from fleet.services.ports import Record, Store
from fleet.services.webhook_ports import DeliveryRow
from fleet.services.webhooks.bodies import trial
from fleet.services.webhooks.looking import gather, put_out
from notifications.dispatch import Sender, dispatch_due
from notifications.errors import BadWebAddress
from notifications.messages import Call
from notifications.signatures import secret_text

if TYPE_CHECKING:
    from notifications.web_addresses import Guard

__all__ = [
    "MOST",
    "Asked",
    "check_address",
    "draw_another",
    "end",
    "live",
    "paused",
    "regions",
    "subscribe",
    "try_out",
]

MOST: Final = 20
"""So many may be told at once: each is sent everything it asks for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What somebody asks for; region '' for every site."""

    url: str
    region: str
    tells_overdue: bool
    tells_services: bool


def check_address(guard: Guard, url: str) -> None:
    """Refuse an address that nothing may be sent to (BadInput); looks its name up."""
    from notifications.web_addresses import web_address

    if not url:
        raise _refused("url", "no address is given", "write it as https://HOST/PATH")
    try:
        guard.machines(web_address(url))
    except BadWebAddress as error:
        raise _refused("url", error.problem, error.mend) from None


def subscribe(
    record: Record,
    view: BoardView,
    asked: Asked,
    *,
    number: str,
    key: bytes,
    by: str,
    base_url: str,
    now: dt.datetime,
) -> Webhook:
    """Keep a subscription, which begins at the record as it is: what is overdue now, and what was
    serviced before, is not told. The address was checked. BadInput for what cannot be asked.
    """
    _check(record, asked)
    put_out(record, gather(record, view, now), base_url, now)
    made = Webhook(
        number=number,
        url=asked.url,
        region=asked.region,
        tells_overdue=asked.tells_overdue,
        tells_services=asked.tells_services,
        secret=secret_text(key),
        made_by=by,
        made_at=now,
    )
    record.webhooks.put(made)
    return made


def _check(record: Record, asked: Asked) -> None:
    if not asked.tells_overdue and not asked.tells_services:
        raise _refused("events", "nothing is chosen to be told", "tick one at least")
    if asked.region and asked.region not in regions(record.register()):
        mend = "choose one of the list, or every site"
        raise _refused("region", f"there is no region '{asked.region}'", mend)
    if len(live(record)) >= MOST:
        raise _refused("url", f"there are {MOST} webhooks already", "end one of them first")


def regions(register: Register) -> Sequence[str]:
    """The regions that can be chosen."""
    return sorted({site.region for site in register.sites.values() if site.region})


def live(record: Record) -> list[Webhook]:
    """The subscriptions that were not ended, the oldest first."""
    return [webhook for webhook in record.webhooks.all() if webhook.ended_at is None]


def paused(record: Record) -> list[Webhook]:
    """Those that are sent nothing, because nothing arrived for days."""
    return [webhook for webhook in live(record) if webhook.paused_at is not None]


def draw_another(record: Record, number: str, key: bytes, now: dt.datetime) -> Webhook:
    """Give a subscription another secret; the former one signs beside it for a while."""
    webhook = _live(record, number)
    changed = replace(
        webhook,
        secret=secret_text(key),
        former_secret=webhook.secret,
        former_until_at=now + FORMER_SECRET_FOR,
    )
    record.webhooks.put(changed)
    return changed


def end(record: Record, number: str, now: dt.datetime) -> Webhook:
    """Send a subscription nothing more: what waits is taken back, and its secrets are dropped."""
    webhook = _live(record, number)
    record.webhooks.suppress_all(number, "the webhook was ended", now)
    ended = replace(webhook, ended_at=now, secret="", former_secret="", former_until_at=None)
    record.webhooks.put(ended)
    return ended


def try_out(
    store: Store,
    door: Sender[Call],
    number: str,
    token: str,
    owner: str,
    clock: Callable[[], dt.datetime],
) -> DeliveryRow:
    """Send a test at once, through the same states as any other, and say how it went.

    One that arrives lets a subscription that was paused go on.
    """
    with store.begin(write=True) as record:
        made = trial(_live(record, number), token, clock())
        record.webhooks.add([made])
        record.commit()
    dispatch_due(store.one_call(made.key), door, owner, clock)
    with store.begin() as record:
        row = record.webhooks.row(made.key)
    if row is None:
        raise NotFound("message", made.key, "try it again")
    return row


def _live(record: Record, number: str) -> Webhook:
    webhook = record.webhooks.find(number)
    if webhook is None or webhook.ended_at is not None:
        raise NotFound("webhook", number, "it may have been ended; load the page again")
    return webhook


def _refused(column: str, problem: str, mend: str) -> BadInput:
    return BadInput([Fault("webhook", None, column, problem, mend)])
