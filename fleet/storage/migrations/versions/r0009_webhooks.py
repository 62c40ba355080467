"""Webhooks: subscriptions, what is on its way to them, and what was looked at for them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from fleet.storage import append_only
from fleet.storage.columns import Instant

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables; none is of the record."""
    op.create_table(
        "webhook",
        *(_text(word) for word in ("number", "url", "region")),
        *(_flag(word) for word in ("tells_overdue", "tells_services")),
        *(_text(word) for word in ("secret", "former_secret")),
        _at("former_until_at"),
        _text("made_by"),
        _at("made_at", empty=False),
        *(_at(word) for word in ("ended_at", "failing_since_at", "paused_at")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_webhook")),
    )
    _delivery()
    _looked_at("webhook_read", sa.Column("seq", sa.Integer, nullable=False))
    _looked_at("webhook_overdue", _text("task"), sa.Column("limit_on", sa.Date, nullable=False))
    append_only.install(op.get_bind())


def _delivery() -> None:
    op.create_table(
        "webhook_delivery",
        *(_text(word) for word in ("key", "webhook", "fact")),
        sa.Column("event", sa.String(32), nullable=False),
        *(_text(word) for word in ("subject", "state", "reason")),
        *(_at(word, empty=False) for word in ("planned_at", "stale_at")),
        *(_at(word) for word in ("next_at", "lease_until_at")),
        _text("claimed_by"),
        *(sa.Column(word, sa.Integer, nullable=False) for word in ("attempts", "uncertain")),
        _at("settled_at"),
        sa.Column("code", sa.Integer),
        _text("answer"),
        sa.Column("body", sa.LargeBinary),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_webhook_delivery")),
        sa.ForeignKeyConstraint(
            ["webhook"], ["webhook.number"], name=op.f("fk_webhook_delivery_webhook_webhook")
        ),
        sa.UniqueConstraint("webhook", "fact", name=op.f("uq_webhook_delivery_webhook_fact")),
    )
    for columns in (["state", "next_at"], ["webhook", "planned_at"]):
        name = op.f(f"ix_webhook_delivery_{'_'.join(columns)}")
        op.create_index(name, "webhook_delivery", columns)


def _looked_at(table: str, *columns: sa.Column[object]) -> None:
    """A table of units; all of its columns but a number are its key."""
    keys = ["unit_id", *(column.name for column in columns if column.name != "seq")]
    op.create_table(
        table,
        sa.Column("unit_id", sa.Integer, nullable=False),
        *columns,
        sa.PrimaryKeyConstraint(*keys, name=op.f(f"pk_{table}")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f(f"fk_{table}_unit_id_unit")),
    )


def _text(name: str) -> sa.Column[object]:
    return sa.Column(name, sa.Text, nullable=False)


def _flag(name: str) -> sa.Column[object]:
    return sa.Column(name, sa.Boolean, nullable=False)


def _at(name: str, *, empty: bool = True) -> sa.Column[object]:
    return sa.Column(name, Instant, nullable=empty)
