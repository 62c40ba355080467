"""What was printed: a line a chart."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from fleet.storage import append_only

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table; its lines are change lines, as those of all the register."""
    op.create_table(
        "chart_print",
        *(_text(word) for word in ("number", "property_number", "site")),
        _number("year"),
        sa.Column("printed_on", sa.Date, nullable=False),
        *(_text(word) for word in ("replaces", "known_at", "paper", "layout")),
        _number("pages"),
        *(_text(word) for word in ("geometry", "days", "rows", "cells")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_chart_print")),
        sa.ForeignKeyConstraint(
            ["property_number"],
            ["unit.property_number"],
            name=op.f("fk_chart_print_property_number_unit"),
        ),
    )
    append_only.install(op.get_bind())


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _number(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False)
