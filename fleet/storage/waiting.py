"""Which lines of an outbox's table are due, and what may a person do with one?

The columns are those of the outbox (`notifications.outbox`), whatever it is that waits.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from typing import Any, Final

import sqlalchemy as sa

from fleet.storage.columns import Instant
from fleet.storage.metadata import text
from notifications.outbox import State

__all__ = ["Waiting", "state_columns"]

_ANEW: Final = dt.timedelta(days=1)
"""So long a message that was too late is tried when a person asks for it."""
_WAITING: Final = (State.QUEUED.value, State.DEFERRED.value)
_RETRIED: Final = (State.DEFERRED.value, State.DEAD.value, State.SUPPRESSED.value)
_SETTLED: Final = (State.SENT.value, State.DEAD.value, State.SUPPRESSED.value)


def state_columns() -> list[sa.Column[Any]]:
    """The columns that say where a line stands; `key` names it."""
    return [
        text("state"),
        text("reason"),
        sa.Column("planned_at", Instant, nullable=False),
        sa.Column("stale_at", Instant, nullable=False),
        sa.Column("next_at", Instant),
        sa.Column("lease_until_at", Instant),
        text("claimed_by"),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("uncertain", sa.Integer, nullable=False),
        sa.Column("settled_at", Instant),
        sa.Column("code", sa.Integer),
        text("answer"),
    ]


class Waiting:
    """The statements that find the lines of one table, and those that a person asks for."""

    def __init__(self, table: sa.Table) -> None:
        c, self._table = table.c, table
        self.at: sa.BindParameter[dt.datetime] = sa.bindparam("at", type_=c.planned_at.type)
        self.is_due = sa.or_(
            sa.and_(c.state.in_(_WAITING), c.next_at <= self.at),
            sa.and_(c.state == State.SENDING.value, c.lease_until_at <= self.at),
        )
        self.any_due = sa.select(c.key).where(self.is_due).limit(1)

    def retry(
        self, keys: Collection[str], at: dt.datetime, has_content: sa.ColumnElement[bool]
    ) -> sa.Update:
        """Queue lines again that are deferred, dead or suppressed and have something to send."""
        c = self._table.c
        return (
            sa.update(self._table)
            .where(c.key.in_(keys), c.state.in_(_RETRIED), has_content)
            .values(
                state=State.QUEUED.value,
                reason="",
                next_at=at,
                attempts=0,
                settled_at=None,
                stale_at=sa.case((c.stale_at > at, c.stale_at), else_=at + _ANEW),
            )
        )

    def suppress(self, keys: Collection[str], why: str, at: dt.datetime) -> sa.Update:
        """Take lines back that are queued or deferred."""
        c = self._table.c
        return (
            sa.update(self._table)
            .where(c.key.in_(keys), c.state.in_(_WAITING))
            .values(state=State.SUPPRESSED.value, reason=why, settled_at=at, next_at=None)
        )

    def settled_before(self, before_at: dt.datetime) -> sa.ColumnElement[bool]:
        """Whether a line was settled before an instant, and so needs its content no more."""
        c = self._table.c
        return sa.and_(c.settled_at < before_at, c.state.in_(_SETTLED))
