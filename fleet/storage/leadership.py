"""Which of several processes runs the timetable? The port `Leadership`, on either database.

It only saves work: should two lead for a moment, the outbox's keys still let each mail in once.
"""

from __future__ import annotations

import datetime as dt
from contextlib import suppress
from dataclasses import replace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from fleet.services.mail_ports import WorkerRow
from fleet.storage.engines import WRITE
from fleet.storage.mail_rows import SqlMail
from fleet.storage.refusals import in_words

__all__ = ["AdvisoryLeadership", "LeaseLeadership", "leadership"]

_DUTY = "timetable"
_TIMETABLE_LOCK = 0x64756574
"""The number of PostgreSQL's advisory lock; 'duet' in ASCII."""


def leadership(engine: sa.Engine, owner: str) -> LeaseLeadership | AdvisoryLeadership:
    """How this process asks whether it leads; owner: a word that no other process has."""
    if engine.dialect.name == "sqlite":
        return LeaseLeadership(engine, owner)
    return AdvisoryLeadership(engine)


class LeaseLeadership:
    """A row with an end: whoever stops renewing it loses it to the next who asks."""

    def __init__(self, engine: sa.Engine, owner: str) -> None:
        self._engine, self._owner = engine, owner
        self._seen: tuple[dt.datetime, WorkerRow] | None = None
        """When the lease was last looked at, and how it stood: until it ends nobody else has it."""

    def is_leader(self, now: dt.datetime, lease: dt.timedelta) -> bool:
        """Take or renew the lease where that can be; a renewal that is not needed writes nothing.

        now: wall time, which all processes of one machine share.
        """
        standing = self._standing(now, lease)
        if _is_mine(standing, self._owner) and _left(standing, now) > lease / 2:
            return True
        if standing and not _is_mine(standing, self._owner) and _is_fresh(standing, now, lease):
            return False
        with in_words(self._engine), self._engine.connect() as connection:
            connection = connection.execution_options(**{WRITE: True})
            with connection.begin():
                return self._taken(SqlMail(connection, write=True), now, lease)

    def _standing(self, now: dt.datetime, lease: dt.timedelta) -> WorkerRow | None:
        """The lease as it was last seen, looked up again where it may have another holder."""
        if self._seen is not None and self._seen[0] <= now:
            row = self._seen[1]
            least = lease / 2 if row.owner == self._owner else dt.timedelta()
            if least < _left(row, now) <= 2 * lease:
                return row
        with in_words(self._engine), self._engine.connect() as connection:
            row_now = SqlMail(connection, write=False).worker(_DUTY)
        self._seen = None if row_now is None else (now, row_now)
        return row_now

    def _taken(self, mail: SqlMail, now: dt.datetime, lease: dt.timedelta) -> bool:
        row = mail.worker(_DUTY) or WorkerRow(duty=_DUTY)
        is_mine = _is_mine(row, self._owner)
        if not is_mine and _is_fresh(row, now, lease):
            return False
        term = row.term if is_mine else row.term + 1
        made = replace(row, owner=self._owner, term=term, until_at=now + lease)
        mail.set_worker(made)
        self._seen = now, made
        return True

    def give_up(self) -> None:
        """Let another take over, at the latest when the lease would have ended."""
        self._seen = None
        with in_words(self._engine), self._engine.connect() as connection:
            connection = connection.execution_options(**{WRITE: True})
            with connection.begin():
                mail = SqlMail(connection, write=True)
                row = mail.worker(_DUTY)
                if row is not None and row.owner == self._owner:
                    mail.set_worker(replace(row, owner="", until_at=None))


def _is_mine(row: WorkerRow | None, owner: str) -> bool:
    return row is not None and row.owner == owner


def _left(row: WorkerRow | None, now: dt.datetime) -> dt.timedelta:
    return dt.timedelta() if row is None or row.until_at is None else row.until_at - now


def _is_fresh(row: WorkerRow, now: dt.datetime, lease: dt.timedelta) -> bool:
    """A lease that ends further ahead than one can is left from a clock that was wrong."""
    return dt.timedelta() < _left(row, now) <= 2 * lease


class AdvisoryLeadership:
    """A lock that PostgreSQL holds for as long as one connection of ours lives."""

    def __init__(self, engine: sa.Engine) -> None:
        self._engine = engine
        self._connection: sa.Connection | None = None
        self._driver: Any = None
        """The driver's own connection: when the server has ended it, only it can be closed."""

    def is_leader(self, now: dt.datetime, lease: dt.timedelta) -> bool:
        """Take the lock where that can be, and see that its connection still lives."""
        if self._connection is not None:
            try:
                self._connection.exec_driver_sql("SELECT 1")
            except DBAPIError:
                self.give_up()
            else:
                return True
        with in_words(self._engine):
            connection = self._engine.connect().execution_options(isolation_level="AUTOCOMMIT")
            driver = connection.connection.driver_connection
            connection.detach()
            query = f"SELECT pg_try_advisory_lock({_TIMETABLE_LOCK})"
            if connection.exec_driver_sql(query).scalar_one():
                self._connection = connection
                self._driver = driver
                return True
            connection.close()
            return False

    def give_up(self) -> None:
        """Close the connection, and the lock with it."""
        connection, self._connection = self._connection, None
        if connection is not None:
            with suppress(DBAPIError):
                connection.close()
            self._driver.close()
