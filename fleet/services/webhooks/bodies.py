"""What does a webhook say? One small JSON object, the same fields for the same type.

It names a unit and what is due, and never a person: no names, no initials, no words of a report.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final
from urllib.parse import quote

from fleet.domain.webhooks import Delivery, Event, Webhook, delivery_key, message_id

__all__ = ["STALE_AFTER", "Fact", "delivery", "trial"]

STALE_AFTER: Final = dt.timedelta(days=3)
"""A webhook is not tried any longer after it was planned; as for mail."""
_SUBJECTS: Final[Mapping[Event, str]] = {
    Event.OVERDUE: "overdue",
    Event.RECORDED: "service recorded",
    Event.STRUCK: "service struck",
}
_EARLIER: Final[Mapping[Event, str]] = {Event.RECORDED: "replaces", Event.STRUCK: "strikes"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One thing that has happened, whoever is told of it.

    name: what no other fact has; earlier: the fact that this one replaces or strikes, '' for none.
    on: the day of the service; None where it is none.
    """

    name: str
    event: Event
    at: dt.datetime
    property_number: str
    kind: str
    site: str
    region: str
    task: str
    on: dt.date | None
    due: dt.date | None
    limit: dt.date | None
    earlier: str = ""


def delivery(webhook: Webhook, fact: Fact, base_url: str, now: dt.datetime) -> Delivery:
    """A fact as one subscription is told it."""
    page = f"{base_url}/units/{quote(fact.property_number)}" if base_url else None
    said: dict[str, str | None] = {
        "property_number": fact.property_number,
        "kind": fact.kind,
        "site": fact.site,
        "task": fact.task,
        "due": _day(fact.due),
        "limit": _day(fact.limit),
        "page": page,
    }
    if fact.event in _EARLIER:
        key = delivery_key(webhook.number, fact.earlier)
        said["on"] = _day(fact.on)
        said[_EARLIER[fact.event]] = message_id(key) if fact.earlier else None
    subject = f"{_SUBJECTS[fact.event]}: {fact.property_number} {fact.task}"
    return _delivery(webhook, fact.name, fact.event, subject, fact.at, said, now)


def trial(webhook: Webhook, token: str, now: dt.datetime) -> Delivery:
    """A message that tells of nothing; token: what no other trial has."""
    said: dict[str, str | None] = {"page": None}
    return _delivery(webhook, f"test/{token}", Event.TEST, "test", now, said, now)


def _delivery(
    webhook: Webhook,
    name: str,
    event: Event,
    subject: str,
    at: dt.datetime,
    said: Mapping[str, str | None],
    now: dt.datetime,
) -> Delivery:
    body = {
        "type": event.value,
        "id": message_id(delivery_key(webhook.number, name)),
        "timestamp": f"{at.astimezone(dt.UTC):%Y-%m-%dT%H:%M:%SZ}",
        **said,
    }
    return Delivery(
        webhook=webhook.number,
        fact=name,
        event=event,
        subject=subject,
        body=json.dumps(body, ensure_ascii=False, separators=(",", ":")).encode(),
        planned_at=now,
        stale_at=now + STALE_AFTER,
    )


def _day(on: dt.date | None) -> str | None:
    return None if on is None else on.isoformat()
