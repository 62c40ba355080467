"""Vendor visits: plans, their visits, days that do not suit sites or technicians."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from fleet.storage import append_only

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables; their lines are change lines, as those of all the register."""
    _make(
        "visit_plan",
        _text("number"),
        *(_day(word) for word in ("made_on", "from_on", "to_on")),
        _text("follows"),
        _count("seed"),
        _count("iterations"),
        _text("versions"),
        _text("content"),
    )
    _make(
        "site_visit",
        *(_text(word) for word in ("number", "plan", "technician", "vendor", "site")),
        *(_day(word) for word in ("trip_on", "on", "to_on")),
        *(_text(word) for word in ("from_at", "to_at", "needs")),
        *(sa.Column(word, sa.String(16), nullable=False) for word in ("grade", "state")),
        *(_day(word, empty=True) for word in ("told_on", "done_on")),
        *(_text(word) for word in ("not_done", "reason")),
        _at_a_site("site_visit"),
    )
    _make("unsuitable_days", *_span("site"), _at_a_site("unsuitable_days"), keys=2)
    _make("technician_days_off", *_span("technician"), keys=2)
    append_only.install(op.get_bind())


def _make(table: str, *parts: sa.schema.SchemaItem, keys: int = 1) -> None:
    """Make a table whose first columns are its key."""
    names = [part.name for part in parts[:keys] if isinstance(part, sa.Column)]
    op.create_table(table, *parts, sa.PrimaryKeyConstraint(*names, name=op.f(f"pk_{table}")))


def _at_a_site(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(["site"], ["site.site"], name=op.f(f"fk_{table}_site_site"))


def _span(whose: str) -> list[sa.schema.SchemaItem]:
    return [_text(whose), _day("from_on"), _day("to_on"), _text("reason")]


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _day(name: str, *, empty: bool = False) -> sa.Column[object]:
    return sa.Column(name, sa.Date, nullable=empty)


def _count(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=False)
