"""Mail: who is away, when it is quiet, the outbox, what was told, links, feeds, calendar events."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from fleet.storage import append_only
from fleet.storage.columns import Instant

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables; the first three are of the register, whose change lines are there."""
    _make("absence", _text("email"), _day("from_on"), _day("to_on"), _text("deputy"), keys=2)
    _make("quiet_period", _text("site"), _day("from_on"), _day("to_on"), _text("reason"), keys=2)
    _make("mail_setting", _text("name"), _text("value"))
    _outbox()
    _make("outbox_content", _text("key"), sa.Column("content", sa.LargeBinary, nullable=False))
    _make(
        "told",
        *(_text(word) for word in ("recipient", "item", "standing")),
        _day("first_on"),
        _day("last_on"),
        _count("times"),
        keys=2,
    )
    _make(
        "mail_address", _text("address"), _count("refusals"), _at("suspended_at"), _text("answer")
    )
    _make(
        "worker",
        _text("duty"),
        _text("owner"),
        _count("term"),
        *(_at(word) for word in ("until_at", "begun_at", "looked_at")),
        _text("fault"),
    )
    _links_and_calendars()
    append_only.install(op.get_bind())


def _outbox() -> None:
    words = ("key", "recipient", "kind", "period")
    later = ("name", "language", "subject", "message_id", "envelope_from", "envelope_to")
    _make(
        "outbox",
        *(_text(word) for word in words),
        sa.Column("day", sa.Date),
        *(_text(word) for word in (*later, "state", "reason")),
        _at("planned_at", empty=False),
        _at("stale_at", empty=False),
        _at("next_at"),
        _at("lease_until_at"),
        _text("claimed_by"),
        _count("attempts"),
        _count("uncertain"),
        _at("settled_at"),
        sa.Column("code", sa.Integer),
        _text("answer"),
        sa.UniqueConstraint(
            "recipient", "kind", "period", name=op.f("uq_outbox_recipient_kind_period")
        ),
        sa.UniqueConstraint("recipient", "day", name=op.f("uq_outbox_recipient_day")),
    )
    op.create_index(op.f("ix_outbox_state_next_at"), "outbox", ["state", "next_at"])


def _links_and_calendars() -> None:
    _make(
        "mail_link",
        *(_text(word) for word in ("token_hash", "email", "purpose", "scope")),
        _at("made_at", empty=False),
        _at("ends_at", empty=False),
        _at("used_at"),
        _text("used_by"),
    )
    _make(
        "calendar_feed",
        _text("token_hash"),
        _text("email"),
        _at("made_at", empty=False),
        _at("revoked_at"),
    )
    _make(
        "calendar_event",
        *(_text(word) for word in ("uid", "about", "site", "content")),
        _count("sequence"),
        _at("revised_at", empty=False),
        _at("cancelled_at"),
        sa.UniqueConstraint("about", name=op.f("uq_calendar_event_about")),
    )


def _make(table: str, *parts: sa.schema.SchemaItem, keys: int = 1) -> None:
    """Make a table whose first columns are its key."""
    names = [part.name for part in parts[:keys] if isinstance(part, sa.Column)]
    op.create_table(table, *parts, sa.PrimaryKeyConstraint(*names, name=op.f(f"pk_{table}")))


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _day(name: str) -> sa.Column[object]:
    return sa.Column(name, sa.Date, nullable=False)


def _count(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False)


def _at(name: str, *, empty: bool = True) -> sa.Column[object]:
    return sa.Column(name, Instant, nullable=empty)
