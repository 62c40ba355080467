"""How is a message taken from the outbox and settled? The port `Outbox`, a commit a call.

A writing transaction is the only one (engines), so what is read in it holds until it ends.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager

import sqlalchemy as sa
from sqlalchemy import RowMapping

from fleet.services.mail_ports import WorkerRow
from fleet.storage.engines import WRITE
from fleet.storage.mail_rows import IS_DUE, SqlMail, is_due
from fleet.storage.mail_schema import mail_address, outbox, outbox_content
from fleet.storage.refusals import in_words
from notifications.messages import Mail
from notifications.outbox import Claimed, Pause, Settled, State

__all__ = ["HARD_BOUNCES", "SqlOutbox"]

HARD_BOUNCES = 3
"""So many refusals in a row suspend an address."""
_DUTY = "dispatch"
_MINUTE = dt.timedelta(minutes=1)


class SqlOutbox:
    """The messages on their way; every call is a transaction of its own."""

    def __init__(self, engine: sa.Engine, held: sa.Connection | None = None) -> None:
        self._engine, self._held = engine, held

    @contextmanager
    def held(self) -> Iterator[SqlOutbox]:
        """The same over one connection, for one thread that makes many calls in a row."""
        with in_words(self._engine), self._engine.connect() as connection:
            yield SqlOutbox(self._engine, connection)

    def claim(
        self, owner: str, limit: int, at: dt.datetime, lease_until_at: dt.datetime, per_minute: int
    ) -> Sequence[Claimed]:
        """Move messages that are due, or whose lease ran out, to sending; the oldest first."""
        with self._begun(write=False) as connection:
            if connection.execute(IS_DUE, {"at": at}).first() is None:
                return []
        with self._begun() as connection:
            _put_aside(connection, at)
            query = _DUE.limit(limit)
            if per_minute:
                keys = _within_rate(connection, at, limit, per_minute)
                query = _DUE.where(outbox.c.key.in_(keys))
            due = connection.execute(query, {"at": at}).mappings().all()
            lease = {"owner": owner, "until": lease_until_at}
            if due:
                connection.execute(_CLAIM, [{"of": row["key"], **lease} for row in due])
        return [_claimed(row) for row in due]

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
            if connection.execute(_SETTLE, values).rowcount != 1:
                return
            if settled.is_hard_bounce:
                self._count_refusal(connection, key, settled)
            elif settled.state is State.SENT:
                connection.execute(_FORGIVE, {"of": key})

    @staticmethod
    def _count_refusal(connection: sa.Connection, key: str, settled: Settled) -> None:
        """Count a refusal of an address; the third in a row suspends it."""
        find = sa.select(outbox.c.envelope_to).where(outbox.c.key == key)
        address = connection.execute(find).scalar_one()
        there = mail_address.c.address == address
        refusals = connection.execute(sa.select(mail_address.c.refusals).where(there)).scalar()
        values: dict[str, object] = {
            "refusals": (refusals or 0) + 1,
            "suspended_at": settled.at if (refusals or 0) + 1 >= HARD_BOUNCES else None,
            "answer": settled.answer,
        }
        if refusals is None:
            connection.execute(sa.insert(mail_address).values(address=address, **values))
        else:
            connection.execute(sa.update(mail_address).where(there).values(**values))

    def give_back(self, owner: str, keys: Sequence[str], next_at: dt.datetime) -> None:
        """Queue claimed messages again that were not tried; the claim is no attempt."""
        if keys:
            with self._begun() as connection:
                rows = [{"of": key, "owner": owner, "next": next_at} for key in keys]
                connection.execute(_GIVE_BACK, rows)

    def pause(self) -> Pause | None:
        """Until when sending has stopped, if it has."""
        with self._begun(write=False) as connection:
            row = SqlMail(connection, write=False).worker(_DUTY)
        return Pause(row.until_at, row.fault) if row and row.until_at else None

    def set_pause(self, pause: Pause | None) -> None:
        """Stop sending until an instant, or go on."""
        row = WorkerRow(duty=_DUTY)
        if pause is not None:
            row = WorkerRow(duty=_DUTY, until_at=pause.until_at, fault=pause.fault)
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


def _put_aside(connection: sa.Connection, at: dt.datetime) -> None:
    """Settle what is not to be sent: what is too late, and what goes to a suspended address."""
    connection.execute(_TOO_LATE, {"at": at})
    addresses = sa.select(mail_address).where(mail_address.c.suspended_at.is_not(None))
    for row in connection.execute(addresses).mappings().all():
        reason = (
            f"the address is suspended after {row['refusals']} refusals in a row, the last:"
            f" {row['answer']}"
        )
        values = {"to": row["address"], "at": at, "why": reason}
        connection.execute(_SUSPENDED, values)


def _within_rate(
    connection: sa.Connection, at: dt.datetime, limit: int, per_minute: int
) -> list[str]:
    """The keys that may go now, when no domain gets more than so many messages a minute."""
    recent = connection.execute(_RECENT, {"since": at - _MINUTE, "at": at}).scalars()
    used = Counter(map(_domain, recent))
    chosen: list[str] = []
    for key, address in connection.execute(_DUE_TO, {"at": at}):
        domain = _domain(address)
        used[domain] += 1
        if used[domain] <= per_minute and len(chosen) < limit:
            chosen.append(key)
    return chosen


def _domain(address: str) -> str:
    return address.rpartition("@")[2]


def _claimed(row: RowMapping) -> Claimed:
    mail = Mail(row["message_id"], row["envelope_from"], row["envelope_to"], row["content"])
    return Claimed(
        key=row["key"],
        mail=mail,
        attempts=row["attempts"] + 1,
        is_uncertain=row["state"] == State.SENDING.value,
        planned_at=row["planned_at"],
        stale_at=row["stale_at"],
    )


_at: sa.BindParameter[dt.datetime] = sa.bindparam("at", type_=outbox.c.planned_at.type)
_of: sa.BindParameter[str] = sa.bindparam("of")
_is_mine = sa.and_(
    outbox.c.key == _of,
    outbox.c.state == State.SENDING.value,
    outbox.c.claimed_by == sa.bindparam("owner"),
)
_DUE = (
    sa.select(
        outbox.c.key,
        outbox.c.state,
        outbox.c.message_id,
        outbox.c.envelope_from,
        outbox.c.envelope_to,
        outbox.c.attempts,
        outbox.c.planned_at,
        outbox.c.stale_at,
        outbox_content.c.content,
    )
    .join(outbox_content, outbox_content.c.key == outbox.c.key)
    .where(is_due)
    .order_by(outbox.c.next_at, outbox.c.planned_at, outbox.c.key)
)
_DUE_TO = (
    sa.select(outbox.c.key, outbox.c.envelope_to)
    .where(is_due)
    .order_by(outbox.c.next_at, outbox.c.planned_at, outbox.c.key)
)
_CLAIM = (
    sa.update(outbox)
    .where(outbox.c.key == _of)
    .values(
        uncertain=outbox.c.uncertain + sa.case((outbox.c.state == State.SENDING.value, 1), else_=0),
        state=State.SENDING.value,
        attempts=outbox.c.attempts + 1,
        claimed_by=sa.bindparam("owner"),
        lease_until_at=sa.bindparam("until"),
    )
)
_SETTLE = (
    sa.update(outbox)
    .where(_is_mine)
    .values(
        state=sa.bindparam("to_state"),
        reason=sa.bindparam("why"),
        next_at=sa.bindparam("next"),
        settled_at=_at,
        code=sa.bindparam("reply"),
        answer=sa.bindparam("words"),
        lease_until_at=None,
        claimed_by="",
    )
)
_FORGIVE = sa.delete(mail_address).where(
    mail_address.c.address
    == sa.select(outbox.c.envelope_to).where(outbox.c.key == _of).scalar_subquery()
)
_GIVE_BACK = (
    sa.update(outbox)
    .where(_is_mine)
    .values(
        state=State.QUEUED.value,
        attempts=outbox.c.attempts - 1,
        next_at=sa.bindparam("next"),
        lease_until_at=None,
        claimed_by="",
    )
)
_TOO_LATE = (
    sa.update(outbox)
    .where(is_due, outbox.c.stale_at <= _at)
    .values(
        state=State.DEAD.value,
        reason="too late: what it says is no longer news",
        settled_at=_at,
        next_at=None,
        lease_until_at=None,
        claimed_by="",
    )
)
_SUSPENDED = (
    sa.update(outbox)
    .where(is_due, outbox.c.envelope_to == sa.bindparam("to"))
    .values(
        state=State.SUPPRESSED.value,
        reason=sa.bindparam("why"),
        settled_at=_at,
        next_at=None,
        lease_until_at=None,
        claimed_by="",
    )
)
_RECENT = sa.select(outbox.c.envelope_to).where(
    sa.or_(
        sa.and_(outbox.c.settled_at > sa.bindparam("since"), outbox.c.attempts > 0),
        sa.and_(outbox.c.state == State.SENDING.value, outbox.c.lease_until_at > _at),
    )
)
