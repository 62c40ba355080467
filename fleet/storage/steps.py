"""How does what waits in a table go from state to state, whatever it is that waits?

The states and the columns are those of the outbox (`notifications.outbox`); mails and webhooks have
tables of their own and these statements. A writing transaction is the only one (engines), so what
is read in it holds until it ends.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from typing import Final, Generic, Self, TypeVar

import sqlalchemy as sa
from sqlalchemy import RowMapping

from fleet.services.mail_ports import WorkerRow
from fleet.storage.engines import WRITE
from fleet.storage.mail_rows import SqlMail
from fleet.storage.refusals import in_words
from fleet.storage.waiting import Waiting
from notifications.outbox import Claimed, Pause, Settled, State

__all__ = ["Steps", "TableOutbox"]

Content = TypeVar("Content")


class Steps(Waiting):
    """The statements that claim and settle the lines of one table."""

    def __init__(self, table: sa.Table) -> None:
        super().__init__(table)
        c = table.c
        self.claim = (
            sa.update(table)
            .where(c.key == sa.bindparam("of"))
            .values(
                uncertain=c.uncertain + sa.case((c.state == State.SENDING.value, 1), else_=0),
                state=State.SENDING.value,
                attempts=c.attempts + 1,
                claimed_by=sa.bindparam("owner"),
                lease_until_at=sa.bindparam("until"),
            )
        )
        self.settle, self.give_back = self._settle(table), self._give_back(table)
        self.too_late = (
            sa.update(table)
            .where(self.is_due, c.stale_at <= self.at)
            .values(
                state=State.DEAD.value,
                reason="too late: what it says is no longer news",
                settled_at=self.at,
                next_at=None,
                **_FREE,
            )
        )
        self.in_turn = (c.next_at, c.planned_at, c.key)
        """The order in which what is due goes."""

    def _settle(self, table: sa.Table) -> sa.Update:
        return (
            sa.update(table)
            .where(_is_mine(table))
            .values(
                state=sa.bindparam("to_state"),
                reason=sa.bindparam("why"),
                next_at=sa.bindparam("next"),
                settled_at=self.at,
                code=sa.bindparam("reply"),
                answer=sa.bindparam("words"),
                **_FREE,
            )
        )

    @staticmethod
    def _give_back(table: sa.Table) -> sa.Update:
        return (
            sa.update(table)
            .where(_is_mine(table))
            .values(
                state=State.QUEUED.value,
                attempts=table.c.attempts - 1,
                next_at=sa.bindparam("next"),
                **_FREE,
            )
        )


_FREE: Final[Mapping[str, object]] = {"lease_until_at": None, "claimed_by": ""}


def _is_mine(table: sa.Table) -> sa.ColumnElement[bool]:
    """A line of a key that this very owner has claimed."""
    c = table.c
    return sa.and_(
        c.key == sa.bindparam("of"),
        c.state == State.SENDING.value,
        c.claimed_by == sa.bindparam("owner"),
    )


class TableOutbox(Generic[Content]):
    """The port `Outbox` over one table; every call is a transaction of its own.

    A subclass says what is due, what a line holds, and what else follows from an answer.
    """

    steps: Steps
    duty: str
    """The duty (`worker`) that says until when sending has stopped."""

    def __init__(self, engine: sa.Engine, held: sa.Connection | None = None) -> None:
        self._engine, self._held = engine, held

    @contextmanager
    def held(self) -> Iterator[Self]:
        """The same over one connection, for one thread that makes many calls in a row."""
        with in_words(self._engine), self._engine.connect() as connection:
            yield self._over(connection)

    def _over(self, connection: sa.Connection) -> Self:
        return type(self)(self._engine, connection)

    def claim(
        self, owner: str, limit: int, at: dt.datetime, lease_until_at: dt.datetime, per_minute: int
    ) -> Sequence[Claimed[Content]]:
        """Move messages that are due, or whose lease ran out, to sending; the oldest first."""
        with self._begun(write=False) as connection:
            if connection.execute(self.steps.any_due, {"at": at}).first() is None:
                return []
        with self._begun() as connection:
            connection.execute(self.steps.too_late, {"at": at})
            due = self._due(connection, at, limit, per_minute)
            lease = {"owner": owner, "until": lease_until_at}
            if due:
                connection.execute(self.steps.claim, [{"of": row["key"], **lease} for row in due])
        return [
            Claimed(
                key=row["key"],
                content=self._content(row, at),
                attempts=row["attempts"] + 1,
                is_uncertain=row["state"] == State.SENDING.value,
                planned_at=row["planned_at"],
                stale_at=row["stale_at"],
            )
            for row in due
        ]

    def settle(self, owner: str, key: str, settled: Settled) -> None:
        """Write what became of one message; nothing where another owner has claimed it since."""
        values = {
            "of": key,
            "owner": owner,
            "to_state": settled.state.value,
            "why": settled.answer if settled.state is State.DEAD else "",
            "next": settled.next_at,
            "at": settled.at,
            "reply": settled.code,
            "words": settled.answer,
        }
        with self._begun() as connection:
            if connection.execute(self.steps.settle, values).rowcount == 1:
                self._follow(connection, key, settled)

    def give_back(self, owner: str, keys: Sequence[str], next_at: dt.datetime) -> None:
        """Queue claimed messages again that were not tried; the claim is no attempt."""
        if keys:
            with self._begun() as connection:
                rows = [{"of": key, "owner": owner, "next": next_at} for key in keys]
                connection.execute(self.steps.give_back, rows)

    def pause(self) -> Pause | None:
        """Until when sending has stopped, if it has."""
        with self._begun(write=False) as connection:
            row = SqlMail(connection, write=False).worker(self.duty)
        return Pause(row.until_at, row.fault) if row and row.until_at else None

    def set_pause(self, pause: Pause | None) -> None:
        """Stop sending until an instant, or go on."""
        row = WorkerRow(duty=self.duty)
        if pause is not None:
            row = WorkerRow(duty=self.duty, until_at=pause.until_at, fault=pause.fault)
        with self._begun() as connection:
            SqlMail(connection, write=True).set_worker(row)

    @contextmanager
    def _begun(self, *, write: bool = True) -> Iterator[sa.Connection]:
        """One transaction, committed unless it fails."""
        with in_words(self._engine), ExitStack() as stack:
            connection = self._held or stack.enter_context(self._engine.connect())
            connection = connection.execution_options(**{WRITE: write})
            with connection.begin():
                yield connection

    def _due(
        self, connection: sa.Connection, at: dt.datetime, limit: int, per_minute: int
    ) -> Sequence[RowMapping]:
        """The lines that go now, with all that is handed over."""
        raise NotImplementedError

    def _content(self, row: RowMapping, at: dt.datetime) -> Content:
        """What is handed over of a line."""
        raise NotImplementedError

    def _follow(self, connection: sa.Connection, key: str, settled: Settled) -> None:
        """Do what else follows from an answer, in the transaction that notes it."""
