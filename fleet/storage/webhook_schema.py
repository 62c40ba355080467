"""Which tables hold the webhooks? They are at work: neither chained nor exported.

The columns of webhook_delivery are those of the outbox (`waiting`); its key is the hash of
subscription and fact. webhook_read and webhook_overdue say what was looked at already.
"""

from __future__ import annotations

import sqlalchemy as sa

from fleet.domain.webhooks import Event
from fleet.storage.columns import Instant, word
from fleet.storage.metadata import METADATA, day, text
from fleet.storage.waiting import state_columns

__all__ = ["webhook", "webhook_delivery", "webhook_overdue", "webhook_read"]

webhook = sa.Table(
    "webhook",
    METADATA,
    text("number", key=True),
    text("url"),
    text("region"),
    sa.Column("tells_overdue", sa.Boolean, nullable=False),
    sa.Column("tells_services", sa.Boolean, nullable=False),
    text("secret"),
    text("former_secret"),
    sa.Column("former_until_at", Instant),
    text("made_by"),
    sa.Column("made_at", Instant, nullable=False),
    sa.Column("ended_at", Instant),
    sa.Column("failing_since_at", Instant),
    sa.Column("paused_at", Instant),
)

webhook_delivery = sa.Table(
    "webhook_delivery",
    METADATA,
    text("key", key=True),
    sa.Column("webhook", sa.ForeignKey("webhook.number"), nullable=False),
    text("fact"),
    sa.Column("event", word(Event, 32), nullable=False),
    text("subject"),
    *state_columns(),
    sa.Column("body", sa.LargeBinary),
    sa.UniqueConstraint("webhook", "fact"),
    sa.Index(None, "state", "next_at"),
    sa.Index(None, "webhook", "planned_at"),
)

webhook_read = sa.Table(
    "webhook_read",
    METADATA,
    sa.Column("unit_id", sa.ForeignKey("unit.id"), primary_key=True),
    sa.Column("seq", sa.Integer, nullable=False),
)

webhook_overdue = sa.Table(
    "webhook_overdue",
    METADATA,
    sa.Column("unit_id", sa.ForeignKey("unit.id"), primary_key=True),
    text("task", key=True),
    day("limit_on", key=True),
)
