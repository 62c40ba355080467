"""How is a mail taken from the outbox and settled? The port `Outbox`, a commit a call."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence

import sqlalchemy as sa
from sqlalchemy import RowMapping

from fleet.storage.mail_schema import mail_address, outbox, outbox_content
from fleet.storage.steps import Steps, TableOutbox
from notifications.messages import Mail
from notifications.outbox import Settled, State

__all__ = ["HARD_BOUNCES", "SqlOutbox"]

HARD_BOUNCES = 3
"""So many refusals in a row suspend an address."""
_MINUTE = dt.timedelta(minutes=1)
_STEPS = Steps(outbox)


class SqlOutbox(TableOutbox[Mail]):
    """The mails on their way; every call is a transaction of its own."""

    steps = _STEPS
    duty = "dispatch"

    def _due(
        self, connection: sa.Connection, at: dt.datetime, limit: int, per_minute: int
    ) -> Sequence[RowMapping]:
        _suppress_suspended(connection, at)
        query = _DUE.limit(limit)
        if per_minute:
            keys = _within_rate(connection, at, limit, per_minute)
            query = _DUE.where(outbox.c.key.in_(keys))
        return connection.execute(query, {"at": at}).mappings().all()

    def _content(self, row: RowMapping, at: dt.datetime) -> Mail:
        return Mail(row["message_id"], row["envelope_from"], row["envelope_to"], row["content"])

    def _follow(self, connection: sa.Connection, key: str, settled: Settled) -> None:
        if settled.is_hard_bounce:
            _count_refusal(connection, key, settled)
        elif settled.state is State.SENT:
            connection.execute(_FORGIVE, {"of": key})


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


def _suppress_suspended(connection: sa.Connection, at: dt.datetime) -> None:
    """Settle what goes to a suspended address: it is not sent."""
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
    .where(_STEPS.is_due)
    .order_by(*_STEPS.in_turn)
)
_DUE_TO = (
    sa.select(outbox.c.key, outbox.c.envelope_to).where(_STEPS.is_due).order_by(*_STEPS.in_turn)
)
_FORGIVE = sa.delete(mail_address).where(
    mail_address.c.address
    == sa.select(outbox.c.envelope_to).where(outbox.c.key == sa.bindparam("of")).scalar_subquery()
)
_SUSPENDED = (
    sa.update(outbox)
    .where(_STEPS.is_due, outbox.c.envelope_to == sa.bindparam("to"))
    .values(
        state=State.SUPPRESSED.value,
        reason=sa.bindparam("why"),
        settled_at=_STEPS.at,
        next_at=None,
        lease_until_at=None,
        claimed_by="",
    )
)
_RECENT = sa.select(outbox.c.envelope_to).where(
    sa.or_(
        sa.and_(outbox.c.settled_at > sa.bindparam("since"), outbox.c.attempts > 0),
        sa.and_(outbox.c.state == State.SENDING.value, outbox.c.lease_until_at > _STEPS.at),
    )
)
