"""Which states does a message on its way pass, and what do planning and sending need of the store?

queued -> sending -> sent | deferred | dead; deferred -> sending again, when it is time; suppressed
is decided when it is planned, or by a person. A message found in `sending` after its lease is
uncertain: it is sent again, the same bytes under the same Message-ID, since nobody knows whether it
arrived (RFC 5321 4.5.3.2). Each step is one commit. Mails and webhooks pass the same states;
`Content` is what is handed over, a `Mail` or a `Call`.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, Protocol, TypeVar

from notifications.messages import Kind, Mail

__all__ = [
    "Answer",
    "Claimed",
    "Outbox",
    "Outcome",
    "Pause",
    "Planned",
    "Settled",
    "State",
    "outbox_key",
]

ContentOut = TypeVar("ContentOut", covariant=True)


class State(StrEnum):
    """Where a message stands."""

    QUEUED = "queued"
    SENDING = "sending"
    SENT = "sent"
    DEFERRED = "deferred"
    DEAD = "dead"
    SUPPRESSED = "suppressed"


class Outcome(StrEnum):
    """What became of one message: taken, to be tried again, or its address refused for good."""

    SENT = "sent"
    DEFERRED = "deferred"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Answer:
    """The server's answer to one message; `code` is None where there was none.

    wait: so long at least it asks to be left alone; None where it does not say.
    """

    outcome: Outcome
    code: int | None
    text: str
    wait: dt.timedelta | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What was decided for one reader, kind and period: a mail, or none and the reason."""

    recipient: str
    """The reader's address in its normal form."""
    kind: Kind
    period: str
    name: str
    language: str
    day: dt.date | None
    """The reader's day that the mail takes, of which each has one; None for calendar changes and
    where nothing is sent."""
    subject: str
    mail: Mail | None
    reason: str
    """Why nothing is sent; '' for a mail."""
    planned_at: dt.datetime
    stale_at: dt.datetime
    """From then on it is not tried any more."""

    @property
    def key(self) -> str:
        """What names it: `outbox_key`."""
        return outbox_key(self.recipient, self.kind, self.period)


def outbox_key(recipient: str, kind: Kind, period: str) -> str:
    """The name of a message from reader, kind and period, never from time: 32 hexadecimal digits.

    `mime.message_id` is built on it, so that a second copy of a mail carries the same Message-ID.
    """
    key = "\0".join((recipient, kind.value, period))
    return hashlib.sha256(key.encode()).hexdigest()[:32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Claimed(Generic[ContentOut]):
    """One message that is to be sent now; `attempts` counts this try."""

    key: str
    content: ContentOut
    attempts: int
    is_uncertain: bool
    """A try before was never answered: it may have arrived."""
    planned_at: dt.datetime
    stale_at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """What became of one try."""

    state: State
    at: dt.datetime
    code: int | None
    answer: str
    next_at: dt.datetime | None = None
    """When to try again; None where it is not tried again."""
    is_hard_bounce: bool = False
    """The address itself was refused for good; three of them in a row suspend it."""


@dataclass(frozen=True, slots=True)
class Pause:
    """Sending has stopped for a fault of our own, until an instant."""

    until_at: dt.datetime
    fault: str


class Outbox(Protocol[ContentOut]):
    """The messages on their way, as sending needs them; every call is a commit of its own."""

    def held(self) -> AbstractContextManager[Outbox[ContentOut]]:
        """The same for one thread that makes many calls in a row."""
        ...

    def claim(
        self, owner: str, limit: int, at: dt.datetime, lease_until_at: dt.datetime, per_minute: int
    ) -> Sequence[Claimed[ContentOut]]:
        """Move messages that are due, or whose lease ran out, to sending; the oldest first.

        per_minute: so many at most to one domain within a minute; 0 for as many as there are.
        Those to a suspended address become suppressed, those that are stale dead.
        """
        ...

    def settle(self, owner: str, key: str, settled: Settled) -> None:
        """Write what became of one message; nothing where another owner has claimed it since."""
        ...

    def give_back(self, owner: str, keys: Sequence[str], next_at: dt.datetime) -> None:
        """Queue claimed messages again that were not tried; the claim is no attempt."""
        ...

    def pause(self) -> Pause | None:
        """Until when sending has stopped, if it has."""
        ...

    def set_pause(self, pause: Pause | None) -> None:
        """Stop sending until an instant, or go on."""
        ...
