"""Who is told by webhook, of what? Subscriptions, and what each is sent.

None of this belongs to the record: it is neither chained nor exported. A secret stands here as it
is, since both sides must know it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

__all__ = ["FORMER_SECRET_FOR", "Delivery", "Event", "Webhook", "delivery_key", "message_id"]

FORMER_SECRET_FOR: Final = dt.timedelta(hours=24)
"""So long a former secret signs beside the new one."""


class Event(StrEnum):
    """What a webhook tells; the word is the `type` of its body."""

    OVERDUE = "unit.overdue"
    RECORDED = "service.recorded"
    STRUCK = "service.struck"
    TEST = "test"


@dataclass(frozen=True, slots=True, kw_only=True)
class Webhook:
    """One subscription: what is sent where, signed with what, and how it stands."""

    number: str
    url: str
    region: str
    """Only of the sites of this region; '' for every site."""
    tells_overdue: bool
    tells_services: bool
    secret: str = field(repr=False)
    former_secret: str = field(default="", repr=False)
    former_until_at: dt.datetime | None = None
    """Until then the former secret signs too."""
    made_by: str
    made_at: dt.datetime
    ended_at: dt.datetime | None = None
    failing_since_at: dt.datetime | None = None
    """When the first of all tries failed since one arrived; None where the last one arrived."""
    paused_at: dt.datetime | None = None
    """Since when nothing is sent, because nothing arrived for days, or it is gone."""

    def tells(self, event: Event, region: str) -> bool:
        """Say whether it is sent an event of a site of this region."""
        is_asked = self.tells_overdue if event is Event.OVERDUE else self.tells_services
        return is_asked and self.region in ("", region)

    def secrets(self, at: dt.datetime) -> tuple[str, ...]:
        """With what is signed at an instant, the present secret first."""
        is_former = self.former_until_at is not None and at < self.former_until_at
        return (self.secret, self.former_secret) if is_former else (self.secret,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """One message to one subscription, before it waits to be sent.

    fact: names what it tells of, so that no fact is told twice ('overdue/UNIT ID/TASK/LIMIT').
    """

    webhook: str
    fact: str
    event: Event
    subject: str
    """What it is about, for people who look at the list."""
    body: bytes
    planned_at: dt.datetime
    stale_at: dt.datetime

    @property
    def key(self) -> str:
        """What names it: `delivery_key`."""
        return delivery_key(self.webhook, self.fact)


def delivery_key(webhook: str, fact: str) -> str:
    """The name of a message from subscription and fact, never from time: 32 hexadecimal digits."""
    return hashlib.sha256(f"{webhook}\0{fact}".encode()).hexdigest()[:32]


def message_id(key: str) -> str:
    """How the receiver is told the name of a message (the header webhook-id)."""
    return f"msg_{key}"
