"""Scanned charts that wait for a person: files, the pages in them, and their cells."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from fleet.storage import append_only
from fleet.storage.columns import Instant

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables; none is of the record."""
    op.create_table(
        "scan_file",
        *(_text(word) for word in ("sha256", "name", "media_type")),
        _count("size"),
        _text("by"),
        sa.Column("sent_at", Instant, nullable=False),
        sa.Column("content", sa.LargeBinary),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_scan_file")),
    )
    _sheets()
    op.create_table(
        "scan_cell",
        _text("sheet"),
        *(_count(word) for word in ("row", "slot")),
        sa.Column("verdict", sa.String(16), nullable=False),
        sa.Column("confidence", sa.Double, nullable=False),
        sa.Column("doubt", sa.String(32)),
        sa.Column("answer", sa.String(16)),
        *(_text(word) for word in ("words", "answered_by")),
        sa.Column("answered_at", Instant),
        sa.PrimaryKeyConstraint("sheet", "row", "slot", name=op.f("pk_scan_cell")),
        sa.ForeignKeyConstraint(
            ["sheet"], ["scan_sheet.number"], name=op.f("fk_scan_cell_sheet_scan_sheet")
        ),
    )
    append_only.install(op.get_bind())


def _sheets() -> None:
    op.create_table(
        "scan_sheet",
        *(_text(word) for word in ("number", "file")),
        _count("place"),
        _text("print"),
        _count("page"),
        *(_text(word) for word in ("site", "problem", "warnings")),
        sa.Column("state", sa.String(16), nullable=False),
        _text("settled_by"),
        sa.Column("settled_at", Instant),
        _count("accepted"),
        sa.Column("flat", sa.LargeBinary),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_scan_sheet")),
        sa.ForeignKeyConstraint(
            ["file"], ["scan_file.sha256"], name=op.f("fk_scan_sheet_file_scan_file")
        ),
    )
    for columns in (["state", "site"], ["print", "page"], ["file"]):
        op.create_index(op.f(f"ix_scan_sheet_{'_'.join(columns)}"), "scan_sheet", columns)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _count(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False)
