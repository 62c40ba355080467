"""How is a webhook taken from its table and settled? The port `Outbox`, a commit a call."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Final, Self

import sqlalchemy as sa
from sqlalchemy import RowMapping

from fleet.domain.webhooks import Webhook, message_id
from fleet.storage.steps import Steps, TableOutbox
from fleet.storage.webhook_schema import webhook, webhook_delivery
from notifications.messages import Call
from notifications.outbox import Settled, State

__all__ = ["FAILS_FOR", "SqlCalls"]

FAILS_FOR: Final = dt.timedelta(days=2)
"""Where nothing has arrived for so long, and something was tried, nothing more is sent."""
_GONE: Final = 410
_STEPS = Steps(webhook_delivery)


class SqlCalls(TableOutbox[Call]):
    """The webhooks on their way; every call is a transaction of its own.

    only: the key of the one message that is taken, also of a subscription that is paused; '' for
    all that are due of those that are not.
    """

    steps = _STEPS
    duty = "webhooks"

    def __init__(
        self, engine: sa.Engine, held: sa.Connection | None = None, only: str = ""
    ) -> None:
        super().__init__(engine, held)
        self._only = only

    def _over(self, connection: sa.Connection) -> Self:
        return type(self)(self._engine, connection, self._only)

    def _due(
        self, connection: sa.Connection, at: dt.datetime, limit: int, per_minute: int
    ) -> Sequence[RowMapping]:
        query = _DUE.limit(limit)
        if self._only:
            query = query.where(webhook_delivery.c.key == self._only)
        else:
            query = query.where(webhook.c.paused_at.is_(None))
        return connection.execute(query, {"at": at}).mappings().all()

    def _content(self, row: RowMapping, at: dt.datetime) -> Call:
        told = Webhook(**{name: row[f"webhook_{name}"] for name in _OF_WEBHOOK})
        return Call(
            webhook=told.number,
            url=told.url,
            message_id=message_id(row["key"]),
            body=row["body"],
            secrets=told.secrets(at),
        )

    def _follow(self, connection: sa.Connection, key: str, settled: Settled) -> None:
        """Note whether anything arrives; what has not for days, or is gone, is sent no more."""
        number = sa.select(webhook_delivery.c.webhook).where(webhook_delivery.c.key == key)
        this = webhook.c.number == number.scalar_subquery()
        if settled.state is State.SENT:
            values: dict[str, object] = {"failing_since_at": None, "paused_at": None}
            connection.execute(sa.update(webhook).where(this).values(values))
            return
        since = sa.func.coalesce(webhook.c.failing_since_at, sa.literal(settled.at, _INSTANT))
        connection.execute(sa.update(webhook).where(this).values(failing_since_at=since))
        has_failed = webhook.c.failing_since_at <= settled.at - FAILS_FOR
        is_to_pause = sa.true() if settled.code == _GONE else has_failed
        pause = sa.update(webhook).where(this, webhook.c.paused_at.is_(None), is_to_pause)
        connection.execute(pause.values(paused_at=settled.at))


_INSTANT = webhook.c.failing_since_at.type
_OF_WEBHOOK = tuple(column.name for column in webhook.c)
_DUE = (
    sa.select(
        webhook_delivery.c.key,
        webhook_delivery.c.state,
        webhook_delivery.c.attempts,
        webhook_delivery.c.planned_at,
        webhook_delivery.c.stale_at,
        webhook_delivery.c.body,
        *(column.label(f"webhook_{column.name}") for column in webhook.c),
    )
    .join(webhook, webhook.c.number == webhook_delivery.c.webhook)
    .where(_STEPS.is_due, webhook.c.ended_at.is_(None), webhook_delivery.c.body.is_not(None))
    .order_by(*_STEPS.in_turn)
)
