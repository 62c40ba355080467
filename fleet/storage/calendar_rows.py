"""How do calendar events, calendar addresses and links stand in their tables?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection
from dataclasses import asdict

import sqlalchemy as sa

from fleet.services.calendar_ports import EventRow, FeedRow, LinkRow
from fleet.storage.mail_schema import calendar_event, calendar_feed, mail_link

__all__ = ["SqlEvents", "SqlFeeds", "SqlLinks"]

Writing = Callable[[], sa.Connection]
"""The connection of a unit of work that may write; RuntimeError for one that may not."""


class SqlEvents:
    """The port `Events` on one unit of work."""

    def __init__(self, connection: sa.Connection, writing: Writing) -> None:
        self._connection, self._writing = connection, writing

    def all(self) -> list[EventRow]:
        """Every event, by uid."""
        query = sa.select(calendar_event).order_by(calendar_event.c.uid)
        return [EventRow(**row) for row in self._connection.execute(query).mappings()]

    def put(self, rows: Collection[EventRow]) -> None:
        """Write events, over those of the same uid."""
        if rows:
            self.drop([row.uid for row in rows])
            self._writing().execute(sa.insert(calendar_event), [asdict(row) for row in rows])

    def drop(self, uids: Collection[str]) -> None:
        """Forget events."""
        delete = sa.delete(calendar_event).where(calendar_event.c.uid == sa.bindparam("of"))
        if uids:
            self._writing().execute(delete, [{"of": uid} for uid in uids])


class SqlLinks:
    """The port `Links` on one unit of work."""

    def __init__(self, connection: sa.Connection, writing: Writing) -> None:
        self._connection, self._writing = connection, writing

    def add(self, row: LinkRow) -> None:
        """Keep a link."""
        self._writing().execute(sa.insert(mail_link), asdict(row))

    def find(self, token_hash: str) -> LinkRow | None:
        """The link of a token, whatever has become of it."""
        query = sa.select(mail_link).where(mail_link.c.token_hash == token_hash)
        row = self._connection.execute(query).mappings().one_or_none()
        return None if row is None else LinkRow(**row)

    def open_of(self, purposes: Collection[str], now: dt.datetime) -> list[LinkRow]:
        """The links for some purposes that were neither used nor have ended, the latest first."""
        link = mail_link.c
        this = (link.purpose.in_(purposes), link.used_at.is_(None), link.ends_at > now)
        query = sa.select(mail_link).where(*this).order_by(link.made_at.desc(), link.token_hash)
        return [LinkRow(**row) for row in self._connection.execute(query).mappings()]

    def spend(self, token_hash: str, purpose: str, at: dt.datetime, by: str) -> bool:
        """Mark a link used that is for this purpose, unused and has not ended; False otherwise."""
        update = (
            sa.update(mail_link)
            .where(
                mail_link.c.token_hash == token_hash,
                mail_link.c.purpose == purpose,
                mail_link.c.used_at.is_(None),
                mail_link.c.ends_at > at,
            )
            .values(used_at=at, used_by=by)
        )
        return self._writing().execute(update).rowcount == 1


class SqlFeeds:
    """The port `Feeds` on one unit of work."""

    def __init__(self, connection: sa.Connection, writing: Writing) -> None:
        self._connection, self._writing = connection, writing

    def add(self, row: FeedRow) -> None:
        """Keep an address."""
        self._writing().execute(sa.insert(calendar_feed), asdict(row))

    def find(self, token_hash: str) -> FeedRow | None:
        """The address of a token, also a revoked one."""
        query = sa.select(calendar_feed).where(calendar_feed.c.token_hash == token_hash)
        row = self._connection.execute(query).mappings().one_or_none()
        return None if row is None else FeedRow(**row)

    def all(self) -> list[FeedRow]:
        """Every address, the oldest first."""
        query = sa.select(calendar_feed).order_by(calendar_feed.c.made_at, calendar_feed.c.email)
        return [FeedRow(**row) for row in self._connection.execute(query).mappings()]

    def revoke(self, email: str, at: dt.datetime) -> int:
        """End every address of a person; how many."""
        update = (
            sa.update(calendar_feed)
            .where(calendar_feed.c.email == email, calendar_feed.c.revoked_at.is_(None))
            .values(revoked_at=at)
        )
        return self._writing().execute(update).rowcount
