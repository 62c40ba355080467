"""What do calendars and links need of the store?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from typing import Protocol

__all__ = ["EventRow", "Events", "FeedRow", "Feeds", "LinkRow", "Links"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EventRow:
    """A calendar event as it was last told; `about` says of what, `content` is canonical JSON."""

    uid: str
    about: str
    site: str
    content: str
    sequence: int
    revised_at: dt.datetime
    cancelled_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkRow:
    """A link that was given out; its token is known by its hash alone."""

    token_hash: str
    email: str
    purpose: str
    scope: str
    made_at: dt.datetime
    ends_at: dt.datetime
    used_at: dt.datetime | None = None
    used_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedRow:
    """A person's calendar address; its token is known by its hash alone."""

    token_hash: str
    email: str
    made_at: dt.datetime
    revoked_at: dt.datetime | None = None


class Events(Protocol):
    """The calendar events of the fleet."""

    def all(self) -> list[EventRow]:
        """Every event, by uid."""
        ...

    def put(self, rows: Collection[EventRow]) -> None:
        """Write events, over those of the same uid."""
        ...

    def drop(self, uids: Collection[str]) -> None:
        """Forget events."""
        ...


class Links(Protocol):
    """The links that were given out."""

    def add(self, row: LinkRow) -> None:
        """Keep a link."""
        ...

    def find(self, token_hash: str) -> LinkRow | None:
        """The link of a token, whatever has become of it."""
        ...

    def open_of(self, purposes: Collection[str], now: dt.datetime) -> list[LinkRow]:
        """The links for some purposes that were neither used nor have ended, the latest first."""
        ...

    def spend(self, token_hash: str, purpose: str, at: dt.datetime, by: str) -> bool:
        """Mark a link used that is for this purpose, unused and has not ended; False otherwise."""
        ...


class Feeds(Protocol):
    """The calendar addresses that were given out."""

    def add(self, row: FeedRow) -> None:
        """Keep an address."""
        ...

    def find(self, token_hash: str) -> FeedRow | None:
        """The address of a token, also a revoked one."""
        ...

    def all(self) -> list[FeedRow]:
        """Every address, the oldest first."""
        ...

    def revoke(self, email: str, at: dt.datetime) -> int:
        """End every address of a person; how many."""
        ...
