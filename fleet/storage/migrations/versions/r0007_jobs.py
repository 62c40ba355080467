"""Long work that pages ask for: jobs, and the files they are given or make."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from fleet.storage import append_only
from fleet.storage.columns import Instant

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables; none is of the record."""
    op.create_table(
        "job",
        *(_text(word) for word in ("number", "kind", "asked", "by")),
        sa.Column("state", sa.String(16), nullable=False),
        *(sa.Column(word, sa.BigInteger, nullable=False) for word in ("done", "total")),
        *(_text(word) for word in ("words", "result")),
        sa.Column("queued_at", Instant, nullable=False),
        sa.Column("ended_at", Instant),
        _text("owner"),
        sa.Column("lease_until_at", Instant),
        sa.Column("tries", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_job")),
    )
    op.create_index(op.f("ix_job_state_queued_at"), "job", ["state", "queued_at"])
    op.create_table(
        "job_file",
        *(_text(word) for word in ("number", "name", "media_type")),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("number", "name", name=op.f("pk_job_file")),
    )
    append_only.install(op.get_bind())


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)
