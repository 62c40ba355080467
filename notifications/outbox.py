"""Which states does a message on its way pass, and what does sending need of the store?

queued -> sending -> sent | deferred | dead; deferred -> sending again, when it is time. A message
found in `sending` after a crash is uncertain: it is sent again under the same Message-ID, since
nobody knows whether it arrived (RFC 5321 4.5.3.2). Each step is one commit.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from enum import StrEnum
from typing import Protocol

from notifications.messages import Mail

__all__ = ["OutboxStore", "State"]


class State(StrEnum):
    """Where a message stands."""

    QUEUED = "queued"
    SENDING = "sending"
    SENT = "sent"
    DEFERRED = "deferred"
    DEAD = "dead"


class OutboxStore(Protocol):
    """Keeps messages as bytes, once each: the Message-ID is the key."""

    def add(self, mails: Sequence[Mail], at: dt.datetime) -> int:
        """Queue those whose Message-ID is not there yet; how many were new."""
        ...

    def claim(self, limit: int, at: dt.datetime, lease_until_at: dt.datetime) -> list[Mail]:
        """Move messages that are due, or whose lease ran out, to sending."""
        ...

    def settle(
        self,
        message_id: str,
        state: State,
        at: dt.datetime,
        answer: str,
        next_at: dt.datetime | None,
    ) -> None:
        """Write what became of one message, with the server's answer and the next try, if any."""
        ...
