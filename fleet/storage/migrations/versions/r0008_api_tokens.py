"""What other programs ask with: the tokens that people with accounts made for them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from fleet.storage import append_only
from fleet.storage.columns import Instant

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table; it is not of the record."""
    op.create_table(
        "api_token",
        *(_text(word) for word in ("number", "token_hash", "name", "email")),
        sa.Column("may_write", sa.Boolean, nullable=False),
        *(sa.Column(word, Instant, nullable=False) for word in ("made_at", "ends_at")),
        *(sa.Column(word, Instant) for word in ("ended_at", "seen_at")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_api_token")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_api_token_token_hash")),
    )
    op.create_index(op.f("ix_api_token_email"), "api_token", ["email"])
    append_only.install(op.get_bind())


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)
