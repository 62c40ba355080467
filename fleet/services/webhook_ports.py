"""What do webhooks need of the store? Subscriptions, what is on its way, what was looked at."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Protocol

from fleet.domain.webhooks import Delivery, Event, Webhook
from notifications.outbox import State

__all__ = ["DeliveryRow", "Overdue", "Webhooks"]

Overdue = tuple[int, str, dt.date]
"""The store's number of a unit, a task and its limit day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryRow:
    """One message to a subscription, without its body."""

    key: str
    webhook: str
    url: str
    """Where it goes: the address of its subscription."""
    fact: str
    event: Event
    subject: str
    state: State
    reason: str
    planned_at: dt.datetime
    stale_at: dt.datetime
    next_at: dt.datetime | None
    attempts: int
    uncertain: int
    settled_at: dt.datetime | None
    code: int | None
    answer: str
    has_body: bool

    @property
    def recipient(self) -> str:
        """To whom it goes, as a mail says it."""
        return self.url


class Webhooks(Protocol):
    """The subscriptions and their messages, inside one unit of work."""

    def all(self) -> Sequence[Webhook]:
        """Every subscription, also those that were ended, the oldest first."""
        ...

    def find(self, number: str) -> Webhook | None:
        """A subscription by its number."""
        ...

    def put(self, webhook: Webhook) -> None:
        """Write a subscription, over the one of the same number."""
        ...

    def add(self, deliveries: Sequence[Delivery]) -> int:
        """Queue messages; how many. One whose subscription was told the fact already is left."""
        ...

    def rows(
        self, since_at: dt.datetime | None = None, webhook: str = "", count: int | None = None
    ) -> Sequence[DeliveryRow]:
        """Messages, the latest first: planned since, of one subscription, so many at most."""
        ...

    def row(self, key_start: str) -> DeliveryRow | None:
        """The one message whose key begins so; None if there is none or more than one."""
        ...

    def body(self, key: str) -> bytes | None:
        """What a message says; None where there is none (any more)."""
        ...

    def retry(self, keys: Collection[str], at: dt.datetime) -> int:
        """Queue messages again that are deferred, dead or suppressed and have a body; how many."""
        ...

    def suppress(self, keys: Collection[str], why: str, at: dt.datetime) -> int:
        """Take messages back that are queued or deferred; how many."""
        ...

    def suppress_all(self, webhook: str, why: str, at: dt.datetime) -> int:
        """Take back all of a subscription that wait; how many."""
        ...

    def is_waiting(self, at: dt.datetime) -> bool:
        """Say whether a message is due to be sent, or its lease has run out."""
        ...

    def prune(self, before_at: dt.datetime) -> int:
        """Drop the bodies of messages settled before; their lines stay. How many."""
        ...

    def unread(self) -> Mapping[int, tuple[int, int]]:
        """Units with entries that were not looked at: the last number looked at, and the last."""
        ...

    def unread_entries(self, tasks: Collection[str]) -> Sequence[tuple[int, str]]:
        """Entries of these tasks that were not looked at and say done or strike another: the unit
        and the key of each, by unit and in chain order.
        """
        ...

    def read(self, seqs: Mapping[int, int]) -> None:
        """Note up to which number the entries of units were looked at."""
        ...

    def overdue(self) -> AbstractSet[Overdue]:
        """What was known to be overdue."""
        ...

    def add_overdue(self, some: Collection[Overdue]) -> None:
        """Note what is known to be overdue from now on."""
        ...
