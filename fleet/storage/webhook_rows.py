"""How do subscriptions and their messages stand in their tables? The port `Webhooks`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import asdict
from typing import Any

import sqlalchemy as sa
from sqlalchemy import RowMapping
from sqlalchemy.dialects import postgresql, sqlite

from fleet.domain.records import Mark
from fleet.domain.webhooks import Delivery, Webhook
from fleet.services.webhook_ports import DeliveryRow, Overdue
from fleet.storage.schema import chain_head, entry, unit
from fleet.storage.waiting import Waiting
from fleet.storage.webhook_schema import webhook as table
from fleet.storage.webhook_schema import webhook_delivery, webhook_overdue, webhook_read
from notifications.outbox import State

__all__ = ["SqlWebhooks"]

_WAITING = Waiting(webhook_delivery)


class SqlWebhooks:
    """The port `Webhooks` on one unit of work."""

    def __init__(self, connection: sa.Connection, writing: Callable[[], sa.Connection]) -> None:
        self._connection, self._writing = connection, writing

    def all(self) -> list[Webhook]:
        """Every subscription, also those that were ended, the oldest first."""
        query = sa.select(table).order_by(table.c.made_at, table.c.number)
        return [Webhook(**row) for row in self._connection.execute(query).mappings()]

    def find(self, number: str) -> Webhook | None:
        """A subscription by its number."""
        query = sa.select(table).where(table.c.number == number)
        row = self._connection.execute(query).mappings().one_or_none()
        return None if row is None else Webhook(**row)

    def put(self, webhook: Webhook) -> None:
        """Write a subscription, over the one of the same number."""
        writing, row = self._writing(), asdict(webhook)
        update = sa.update(table).where(table.c.number == webhook.number).values(row)
        if writing.execute(update).rowcount == 0:
            writing.execute(sa.insert(table), row)

    def add(self, deliveries: Sequence[Delivery]) -> int:
        """Queue messages; how many. One whose subscription was told the fact already is left."""
        return sum(map(self._add, deliveries))

    def _add(self, delivery: Delivery) -> int:
        insert = self._insert(webhook_delivery).values(_values(delivery)).on_conflict_do_nothing()
        # Without this option the rows of an INSERT are not counted (SQLAlchemy 2.1).
        insert = insert.execution_options(preserve_rowcount=True)
        return self._writing().execute(insert).rowcount

    def rows(
        self, since_at: dt.datetime | None = None, webhook: str = "", count: int | None = None
    ) -> list[DeliveryRow]:
        """Messages, the latest first: planned since, of one subscription, so many at most."""
        c = webhook_delivery.c
        query = _SELECT.order_by(c.planned_at.desc(), c.key).limit(count)
        if since_at is not None:
            query = query.where(c.planned_at >= since_at)
        if webhook:
            query = query.where(c.webhook == webhook)
        return [_row(row) for row in self._connection.execute(query).mappings()]

    def row(self, key_start: str) -> DeliveryRow | None:
        """The one message whose key begins so; None if there is none or more than one."""
        query = _SELECT.where(webhook_delivery.c.key.startswith(key_start, autoescape=True))
        found = self._connection.execute(query.limit(2)).mappings().all()
        return _row(found[0]) if len(found) == 1 else None

    def body(self, key: str) -> bytes | None:
        """What a message says; None where there is none (any more)."""
        query = sa.select(webhook_delivery.c.body).where(webhook_delivery.c.key == key)
        return self._connection.execute(query).scalar_one_or_none()

    def retry(self, keys: Collection[str], at: dt.datetime) -> int:
        """Queue messages again that are deferred, dead or suppressed and have a body; how many."""
        update = _WAITING.retry(keys, at, webhook_delivery.c.body.is_not(None))
        return self._writing().execute(update).rowcount

    def suppress(self, keys: Collection[str], why: str, at: dt.datetime) -> int:
        """Take messages back that are queued or deferred; how many."""
        return self._writing().execute(_WAITING.suppress(keys, why, at)).rowcount

    def suppress_all(self, webhook: str, why: str, at: dt.datetime) -> int:
        """Take back all of a subscription that wait; how many."""
        keys = sa.select(webhook_delivery.c.key).where(webhook_delivery.c.webhook == webhook)
        return self.suppress(self._connection.execute(keys).scalars().all(), why, at)

    def is_waiting(self, at: dt.datetime) -> bool:
        """Say whether a message is due to be sent, or its lease has run out."""
        return self._connection.execute(_WAITING.any_due, {"at": at}).first() is not None

    def prune(self, before_at: dt.datetime) -> int:
        """Drop the bodies of messages settled before; their lines stay. How many."""
        c = webhook_delivery.c
        old = sa.and_(_WAITING.settled_before(before_at), c.body.is_not(None))
        update = sa.update(webhook_delivery).where(old).values(body=None)
        return self._writing().execute(update).rowcount

    def unread(self) -> dict[int, tuple[int, int]]:
        """Units with entries that were not looked at: the last number looked at, and the last."""
        rows = self._connection.execute(_UNREAD)
        return {unit_id: (read, last) for unit_id, read, last in rows}

    def unread_entries(self, tasks: Collection[str]) -> list[tuple[int, str]]:
        """Entries of these tasks that were not looked at and say done or strike another: the unit
        and the key of each, by unit and in chain order.
        """
        query = _UNREAD_ENTRIES.where(entry.c.task.in_(tasks))
        return [(unit_id, key) for unit_id, key in self._connection.execute(query)]

    def read(self, seqs: Mapping[int, int]) -> None:
        """Note up to which number the entries of units were looked at."""
        if seqs:
            insert = self._insert(webhook_read)
            upsert = insert.on_conflict_do_update(
                index_elements=["unit_id"], set_={"seq": insert.excluded.seq}
            )
            rows = [{"unit_id": unit_id, "seq": seq} for unit_id, seq in seqs.items()]
            self._writing().execute(upsert, rows)

    def overdue(self) -> set[Overdue]:
        """What was known to be overdue."""
        c = webhook_overdue.c
        rows = self._connection.execute(sa.select(c.unit_id, c.task, c.limit_on))
        return {(unit_id, task, limit_on) for unit_id, task, limit_on in rows}

    def add_overdue(self, some: Collection[Overdue]) -> None:
        """Note what is known to be overdue from now on."""
        rows = [dict(zip(("unit_id", "task", "limit_on"), one, strict=True)) for one in some]
        if rows:
            self._writing().execute(self._insert(webhook_overdue).on_conflict_do_nothing(), rows)

    def _insert(self, into: sa.Table) -> sqlite.Insert | postgresql.Insert:
        """An insert that knows what to do where the row is there; both databases write it alike."""
        if self._connection.dialect.name == "sqlite":
            return sqlite.insert(into)
        return postgresql.insert(into)


_SELECT = sa.select(
    *(
        column
        for column in webhook_delivery.c
        if column.name not in ("lease_until_at", "claimed_by", "body")
    ),
    webhook_delivery.c.body.is_not(None).label("has_body"),
    table.c.url,
).join(table, table.c.number == webhook_delivery.c.webhook)
_READ_SO_FAR = sa.func.coalesce(webhook_read.c.seq, 0)
_UNREAD = (
    sa.select(unit.c.id, _READ_SO_FAR.label("seq_read"), chain_head.c.seq)
    .join(chain_head, chain_head.c.chain == sa.literal("entry/").concat(unit.c.property_number))
    .outerjoin(webhook_read, webhook_read.c.unit_id == unit.c.id)
    .where(chain_head.c.seq > _READ_SO_FAR)
)
"""The name of a chain is `head_rows.entry_chain`, of the number the unit was entered under."""
_unread = _UNREAD.subquery()
_UNREAD_ENTRIES = (
    sa.select(entry.c.unit_id, entry.c.key)
    .join(_unread, sa.and_(entry.c.unit_id == _unread.c.id, entry.c.seq > _unread.c.seq_read))
    .where(sa.or_(entry.c.mark == Mark.DONE, entry.c.strikes != ""))
    .order_by(entry.c.unit_id, entry.c.seq)
)


def _row(row: RowMapping) -> DeliveryRow:
    return DeliveryRow(**{**row, "state": State(row["state"]), "has_body": bool(row["has_body"])})


def _values(delivery: Delivery) -> dict[str, Any]:
    return {
        **asdict(delivery),
        "key": delivery.key,
        "state": State.QUEUED.value,
        "reason": "",
        "next_at": delivery.planned_at,
        "lease_until_at": None,
        "claimed_by": "",
        "attempts": 0,
        "uncertain": 0,
        "settled_at": None,
        "code": None,
        "answer": "",
    }
