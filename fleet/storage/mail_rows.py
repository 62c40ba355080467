"""How does the outbox stand in its tables, as one unit of work sees it? The port `MailRecord`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence

import sqlalchemy as sa
from sqlalchemy import RowMapping
from sqlalchemy.dialects import postgresql, sqlite

from fleet.services.mail_ports import AddressState, OutboxRow, Told, WorkerRow
from fleet.storage.mail_schema import mail_address, outbox, outbox_content, told, worker
from fleet.storage.schema import chain_head
from fleet.storage.waiting import Waiting
from notifications.messages import Kind
from notifications.outbox import Planned, State

__all__ = ["SqlMail"]

_WAITING = Waiting(outbox)


class SqlMail:
    """The mail of one unit of work; what it writes is undone unless that is committed."""

    def __init__(self, connection: sa.Connection, *, write: bool) -> None:
        self._connection = connection
        self._write = write

    def keys(self, since_at: dt.datetime) -> set[tuple[str, Kind, str]]:
        """Recipient, kind and period of every message planned since."""
        c = outbox.c
        query = sa.select(c.recipient, c.kind, c.period).where(c.planned_at >= since_at)
        rows = self._connection.execute(query)
        return {(recipient, Kind(kind), period) for recipient, kind, period in rows}

    def days(self, since_on: dt.date) -> set[tuple[str, dt.date]]:
        """The days of each recipient that a mail has taken, from a day on."""
        query = sa.select(outbox.c.recipient, outbox.c.day).where(outbox.c.day >= since_on)
        return {(recipient, day) for recipient, day in self._connection.execute(query)}

    def add(self, planned: Sequence[Planned]) -> list[bool]:
        """Plan messages; False for one whose recipient, kind and period, or whose day, is taken."""
        return [self._add(one) for one in planned]

    def _add(self, planned: Planned) -> bool:
        insert = self._insert(outbox).values(_values(planned)).on_conflict_do_nothing()
        # Without this option the rows of an INSERT are not counted (SQLAlchemy 2.1).
        insert = insert.execution_options(preserve_rowcount=True)
        if self._writing().execute(insert).rowcount != 1:
            return False
        if planned.mail is not None:
            content = {"key": planned.key, "content": planned.mail.content}
            self._writing().execute(sa.insert(outbox_content), content)
        return True

    def told(self, recipient: str) -> dict[str, Told]:
        """What a reader was told before, by item."""
        c = told.c
        query = sa.select(c.item, c.standing, c.first_on, c.last_on, c.times)
        rows = self._connection.execute(query.where(c.recipient == recipient))
        return {item: Told(*rest) for item, *rest in rows}

    def tell(self, recipient: str, items: Mapping[str, str], on: dt.date) -> None:
        """Note what a reader is told on a day: item to standing."""
        if not items:
            return
        insert = self._insert(told)
        upsert = insert.on_conflict_do_update(
            index_elements=["recipient", "item"],
            set_={
                "standing": insert.excluded.standing,
                "last_on": insert.excluded.last_on,
                "times": told.c.times + 1,
            },
        )
        rows = [
            {
                "recipient": recipient,
                "item": item,
                "standing": standing,
                "first_on": on,
                "last_on": on,
                "times": 1,
            }
            for item, standing in items.items()
        ]
        self._writing().execute(upsert, rows)

    def rows(
        self,
        states: Collection[State] = (),
        recipient: str = "",
        since_at: dt.datetime | None = None,
    ) -> list[OutboxRow]:
        """Messages by planned_at and key; no states: of every one."""
        query = _SELECT.order_by(outbox.c.planned_at, outbox.c.key)
        if states:
            query = query.where(outbox.c.state.in_([state.value for state in states]))
        if recipient:
            query = query.where(outbox.c.recipient == recipient)
        if since_at is not None:
            query = query.where(outbox.c.planned_at >= since_at)
        return [_row(row) for row in self._connection.execute(query).mappings()]

    def row(self, key_start: str) -> OutboxRow | None:
        """The one message whose key begins so; None if there is none or more than one."""
        query = _SELECT.where(outbox.c.key.startswith(key_start, autoescape=True)).limit(2)
        found = self._connection.execute(query).mappings().all()
        return _row(found[0]) if len(found) == 1 else None

    def content(self, key: str) -> bytes | None:
        """The bytes of a message; None where there are none (any more)."""
        query = sa.select(outbox_content.c.content).where(outbox_content.c.key == key)
        return self._connection.execute(query).scalar_one_or_none()

    def retry(self, keys: Collection[str], at: dt.datetime) -> int:
        """Queue messages again that are deferred, dead or suppressed and have bytes; how many."""
        has_content = outbox.c.key.in_(sa.select(outbox_content.c.key))
        return self._writing().execute(_WAITING.retry(keys, at, has_content)).rowcount

    def suppress(self, keys: Collection[str], why: str, at: dt.datetime) -> int:
        """Take messages back that are queued or deferred; how many."""
        return self._writing().execute(_WAITING.suppress(keys, why, at)).rowcount

    def addresses(self) -> list[AddressState]:
        """Every address that refused mail and has not taken any since."""
        rows = self._connection.execute(sa.select(mail_address).order_by(mail_address.c.address))
        return [AddressState(**row) for row in rows.mappings()]

    def resume(self, address: str) -> bool:
        """Write to an address again; False where it was not kept."""
        delete = sa.delete(mail_address).where(mail_address.c.address == address)
        return self._writing().execute(delete).rowcount == 1

    def worker(self, duty: str) -> WorkerRow | None:
        """Where a duty stands; None where it never ran."""
        query = sa.select(worker).where(worker.c.duty == duty)
        row = self._connection.execute(query).mappings().one_or_none()
        return None if row is None else WorkerRow(**row)

    def set_worker(self, row: WorkerRow) -> None:
        """Note where a duty stands."""
        values = {column.name: getattr(row, column.name) for column in worker.c}
        upsert = self._insert(worker).on_conflict_do_update(index_elements=["duty"], set_=values)
        self._writing().execute(upsert, values)

    def mark(self) -> int:
        """A number that changes whenever the register or its rule book does."""
        return int(self._connection.execute(_MARK).scalar_one() or 0)

    def is_waiting(self, at: dt.datetime) -> bool:
        """Say whether a message is due to be sent, or its lease has run out."""
        return self._connection.execute(_WAITING.any_due, {"at": at}).first() is not None

    def prune(self, before_at: dt.datetime) -> int:
        """Drop the bytes of messages settled before; their lines stay. How many."""
        old = sa.select(outbox.c.key).where(_WAITING.settled_before(before_at))
        delete = sa.delete(outbox_content).where(outbox_content.c.key.in_(old))
        return self._writing().execute(delete).rowcount

    def _insert(self, table: sa.Table) -> sqlite.Insert | postgresql.Insert:
        """An insert that knows what to do where the row is there; both databases write it alike."""
        if self._connection.dialect.name == "sqlite":
            return sqlite.insert(table)
        return postgresql.insert(table)

    def _writing(self) -> sa.Connection:
        if not self._write:
            raise RuntimeError("this unit of work was begun for reading; begin it with write=True")
        return self._connection


_MARK = sa.select(sa.func.sum(chain_head.c.seq)).where(
    sa.or_(chain_head.c.chain.startswith("register/"), chain_head.c.chain == "rule_book")
)
_SELECT = sa.select(
    *(
        column
        for column in outbox.c
        if column.name not in ("envelope_from", "lease_until_at", "claimed_by")
    )
)


def _row(row: RowMapping) -> OutboxRow:
    return OutboxRow(**{**row, "kind": Kind(row["kind"]), "state": State(row["state"])})


def _values(planned: Planned) -> dict[str, object]:
    mail = planned.mail
    return {
        "key": planned.key,
        "recipient": planned.recipient,
        "kind": planned.kind.value,
        "period": planned.period,
        "day": planned.day,
        "name": planned.name,
        "language": planned.language,
        "subject": planned.subject,
        "message_id": mail.message_id if mail else "",
        "envelope_from": mail.envelope_from if mail else "",
        "envelope_to": mail.envelope_to if mail else "",
        "state": (State.QUEUED if mail else State.SUPPRESSED).value,
        "reason": planned.reason,
        "planned_at": planned.planned_at,
        "stale_at": planned.stale_at,
        "next_at": planned.planned_at if mail else None,
        "lease_until_at": None,
        "claimed_by": "",
        "attempts": 0,
        "uncertain": 0,
        "settled_at": None if mail else planned.planned_at,
        "code": None,
        "answer": "",
    }
