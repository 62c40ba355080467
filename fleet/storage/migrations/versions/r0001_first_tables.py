"""The first tables: register, change lines, rule books, entries, marked years."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from fleet.storage import append_only
from fleet.storage.columns import Instant

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables and their triggers."""
    _sites()
    _units()
    _people()
    _lines()
    _entries()
    append_only.install(op.get_bind())


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _day(name: str, *, empty: bool = False) -> sa.Column[object]:
    return sa.Column(name, sa.Date, nullable=empty)


def _key(table: str, *columns: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(*columns, name=op.f(f"pk_{table}"))


def _reference(table: str, column: str, to: str, to_column: str) -> sa.ForeignKeyConstraint:
    name = op.f(f"fk_{table}_{column}_{to}")
    return sa.ForeignKeyConstraint([column], [f"{to}.{to_column}"], name=name)


def _chained() -> list[sa.Column[object]]:
    return [
        sa.Column("stored_at", Instant, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("prev_hash", sa.LargeBinary(32), nullable=False),
        sa.Column("hash", sa.LargeBinary(32), nullable=False),
    ]


def _sites() -> None:
    words = ("site", "name", "county", "region", "country", "subdivision", "time_zone", "open_days")
    op.create_table(
        "site",
        *(_text(word) for word in words),
        sa.Column("latitude", sa.Double),
        sa.Column("longitude", sa.Double),
        _text("postal_code"),
        _text("lead_email"),
        _key("site", "site"),
    )
    op.create_table(
        "weekly_pattern",
        _text("site"),
        _day("from_on"),
        _text("open_days"),
        _key("weekly_pattern", "site", "from_on"),
        _reference("weekly_pattern", "site", "site", "site"),
    )
    op.create_table(
        "holiday",
        _text("site"),
        _text("country"),
        _text("subdivision"),
        _day("on"),
        _text("name"),
        _key("holiday", "site", "country", "subdivision", "on"),
    )
    op.create_table(
        "closure",
        _text("site"),
        _day("from_on"),
        _day("to_on"),
        _text("reason"),
        sa.Column("open", sa.Boolean, nullable=False),
        _key("closure", "site", "from_on", "open"),
    )


def _units() -> None:
    op.create_table(
        "unit",
        sa.Column("id", sa.Integer, sa.Identity(), nullable=False),
        *(_text(w) for w in ("property_number", "kind", "manufacturer", "model", "serial", "site")),
        _day("in_service_on"),
        _day("retired_on", empty=True),
        _day("record_from_on", empty=True),
        _key("unit", "id"),
        sa.UniqueConstraint("property_number", name=op.f("uq_unit_property_number")),
        _reference("unit", "site", "site", "site"),
    )
    op.create_table(
        "placement",
        _text("property_number"),
        _text("site"),
        _day("from_on"),
        _key("placement", "property_number", "from_on"),
        _reference("placement", "property_number", "unit", "property_number"),
        _reference("placement", "site", "site", "site"),
    )
    op.create_table(
        "outage",
        _text("property_number"),
        _day("from_on"),
        _day("to_on", empty=True),
        _text("reason"),
        _key("outage", "property_number", "from_on"),
        _reference("outage", "property_number", "unit", "property_number"),
    )


def _people() -> None:
    op.create_table(
        "person",
        _text("email"),
        _text("name"),
        sa.Column("role", sa.String(16), nullable=False),
        *(_text(word) for word in ("site", "region", "language", "time_zone", "deputy")),
        _key("person", "email", "role", "site", "region"),
    )


def _lines() -> None:
    op.create_table(
        "change_line",
        _text("chain"),
        sa.Column("seq", sa.Integer, nullable=False),
        _text("key"),
        sa.Column("old", sa.Text),
        _text("new"),
        sa.Column("initial", sa.Boolean, nullable=False),
        *_chained(),
        _key("change_line", "chain", "seq"),
    )
    op.create_table(
        "rule_book",
        sa.Column("seq", sa.Integer, nullable=False, autoincrement=False),
        _text("text"),
        _text("sha256"),
        sa.Column("initial", sa.Boolean, nullable=False),
        *_chained(),
        _key("rule_book", "seq"),
    )
    op.create_table(
        "holiday_year",
        _text("country"),
        _text("subdivision"),
        sa.Column("year", sa.Integer, nullable=False),
        sa.Column("stored_at", Instant, nullable=False),
        _text("names"),
        _text("origin"),
        _key("holiday_year", "country", "subdivision", "year", "stored_at"),
    )


def _entries() -> None:
    op.create_table(
        "entry",
        sa.Column("unit_id", sa.Integer, nullable=False),
        sa.Column("seq", sa.Integer, nullable=False),
        _text("key"),
        _text("task"),
        _day("on"),
        _day("to_on", empty=True),
        sa.Column("mark", sa.String(16)),
        _text("initials"),
        _text("note"),
        _text("reading"),
        sa.Column("recorded_at", Instant),
        _text("strikes"),
        _text("why"),
        *_chained(),
        _key("entry", "unit_id", "seq"),
        sa.UniqueConstraint("key", name=op.f("uq_entry_key")),
        _reference("entry", "unit_id", "unit", "id"),
    )
    where = sa.text("strikes != ''")
    op.create_index(
        "ix_entry_strikes", "entry", ["strikes"], sqlite_where=where, postgresql_where=where
    )
    op.create_table(
        "marked_year",
        sa.Column("unit_id", sa.Integer, nullable=False),
        _text("task"),
        sa.Column("year", sa.Integer, nullable=False),
        sa.Column("marked", sa.LargeBinary(46), nullable=False),
        sa.Column("done", sa.LargeBinary(46), nullable=False),
        sa.Column("extra", sa.LargeBinary(366)),
        _key("marked_year", "unit_id", "task", "year"),
        _reference("marked_year", "unit_id", "unit", "id"),
        sqlite_with_rowid=False,
    )
