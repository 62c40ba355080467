"""What does the planning of mail need of the store? One unit of work's view of the outbox."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from notifications.messages import Kind
from notifications.outbox import Planned, State

__all__ = ["AddressState", "MailRecord", "OutboxRow", "Told", "WorkerRow"]


@dataclass(frozen=True, slots=True)
class Told:
    """What a reader was told of one item: how it stood, the first and last day, how many times."""

    standing: str
    first_on: dt.date
    last_on: dt.date
    times: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OutboxRow:
    """One message of the outbox without its bytes."""

    key: str
    recipient: str
    kind: Kind
    period: str
    day: dt.date | None
    name: str
    language: str
    subject: str
    message_id: str
    envelope_to: str
    state: State
    reason: str
    planned_at: dt.datetime
    stale_at: dt.datetime
    next_at: dt.datetime | None
    attempts: int
    uncertain: int
    """So many times it was sent again because nobody knew whether it had arrived."""
    settled_at: dt.datetime | None
    code: int | None
    answer: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AddressState:
    """An address that refused mail: how many times in a row, and since when it is suspended."""

    address: str
    refusals: int
    suspended_at: dt.datetime | None
    answer: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkerRow:
    """Where one duty of the program's own stands; see the table `worker`."""

    duty: str
    owner: str = ""
    term: int = 0
    until_at: dt.datetime | None = None
    begun_at: dt.datetime | None = None
    looked_at: dt.datetime | None = None
    fault: str = ""


class MailRecord(Protocol):
    """The outbox and what belongs to it, inside one unit of work."""

    def keys(self, since_at: dt.datetime) -> set[tuple[str, Kind, str]]:
        """Recipient, kind and period of every message planned since."""
        ...

    def days(self, since_on: dt.date) -> set[tuple[str, dt.date]]:
        """The days of each recipient that a mail has taken, from a day on."""
        ...

    def add(self, planned: Sequence[Planned]) -> list[bool]:
        """Plan messages; False for one whose recipient, kind and period, or whose day, is taken."""
        ...

    def told(self, recipient: str) -> dict[str, Told]:
        """What a reader was told before, by item."""
        ...

    def tell(self, recipient: str, items: Mapping[str, str], on: dt.date) -> None:
        """Note what a reader is told on a day: item to standing."""
        ...

    def rows(
        self,
        states: Collection[State] = (),
        recipient: str = "",
        since_at: dt.datetime | None = None,
    ) -> list[OutboxRow]:
        """Messages by planned_at and key; no states: of every one."""
        ...

    def row(self, key_start: str) -> OutboxRow | None:
        """The one message whose key begins so; None if there is none or more than one."""
        ...

    def content(self, key: str) -> bytes | None:
        """The bytes of a message; None where there are none (any more)."""
        ...

    def retry(self, keys: Collection[str], at: dt.datetime) -> int:
        """Queue messages again that are deferred, dead or suppressed and have bytes; how many."""
        ...

    def suppress(self, keys: Collection[str], why: str, at: dt.datetime) -> int:
        """Take messages back that are queued or deferred; how many."""
        ...

    def addresses(self) -> list[AddressState]:
        """Every address that refused mail and has not taken any since."""
        ...

    def resume(self, address: str) -> bool:
        """Write to an address again; False where it was not kept."""
        ...

    def worker(self, duty: str) -> WorkerRow | None:
        """Where a duty stands; None where it never ran."""
        ...

    def set_worker(self, row: WorkerRow) -> None:
        """Note where a duty stands."""
        ...

    def mark(self) -> int:
        """A number that changes whenever the register or its rule book does."""
        ...

    def is_waiting(self, at: dt.datetime) -> bool:
        """Say whether a message is due to be sent, or its lease has run out."""
        ...

    def prune(self, before_at: dt.datetime) -> int:
        """Drop the bytes of messages settled before; their lines stay. How many."""
        ...
