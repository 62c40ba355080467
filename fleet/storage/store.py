"""How is a fleet's database opened? Once, checked; then one unit of work after another."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import sqlalchemy as sa

from fleet.storage.call_store import SqlCalls
from fleet.storage.engines import WRITE, make_engine, parse_url
from fleet.storage.leadership import AdvisoryLeadership, LeaseLeadership, leadership
from fleet.storage.lifecycle import require_current
from fleet.storage.memory import Memory
from fleet.storage.outbox_store import SqlOutbox
from fleet.storage.record import SqlRecord
from fleet.storage.refusals import in_words

__all__ = ["SqlStore", "open_store"]


class SqlStore:
    """The port `Store` on SQLite or PostgreSQL; close it when done."""

    def __init__(self, engine: sa.Engine, *, clock: Callable[[], dt.datetime]) -> None:
        self._engine, self._memory = engine, Memory()
        self.clock = clock
        """The program's clock, for those who stamp what they write."""

    @contextmanager
    def begin(self, *, write: bool = False) -> Iterator[SqlRecord]:
        """Open a unit of work; it rolls back unless committed.

        One that may write waits for any other writer, 5 seconds at most. Raises StoreError where
        the database is locked, full or cannot be used, AppendOnly where it refuses a change.
        """
        with in_words(self._engine), self._engine.connect() as connection:
            connection = connection.execution_options(**{WRITE: write})
            connection.begin()
            yield SqlRecord(connection, write=write, memory=self._memory)

    @property
    def outbox(self) -> SqlOutbox:
        """The messages on their way, as sending needs them."""
        return SqlOutbox(self._engine)

    @property
    def calls(self) -> SqlCalls:
        """The webhooks on their way, as sending needs them."""
        return SqlCalls(self._engine)

    def one_call(self, key: str) -> SqlCalls:
        """One webhook on its way, by its key."""
        return SqlCalls(self._engine, only=key)

    def leadership(self, owner: str) -> LeaseLeadership | AdvisoryLeadership:
        """How a process asks whether it runs the timetable; owner: a word no other process has."""
        return leadership(self._engine, owner)

    def close(self) -> None:
        """Close what connections are kept open."""
        self._engine.dispose()


def open_store(url: str, *, clock: Callable[[], dt.datetime], keeps: bool = False) -> SqlStore:
    """Open the database of a fleet.

    url: sqlite:///FILE or postgresql://…; clock gives the present instant, with its zone; keeps:
    connections stay open for the next who asks. Raises
    StoreError for what is missing, of another schema, or no database, and says what to run.
    """
    require_current(url)
    return SqlStore(make_engine(parse_url(url), keeps=keeps), clock=clock)
