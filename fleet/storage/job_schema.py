"""Which tables hold the long work? They are at work: neither chained nor exported."""

from __future__ import annotations

import sqlalchemy as sa

from fleet.domain.jobs import JobState
from fleet.storage.columns import Instant, word
from fleet.storage.metadata import METADATA, text

__all__ = ["job", "job_file"]

# `asked` and `result` are JSON objects of texts.
job = sa.Table(
    "job",
    METADATA,
    text("number", key=True),
    text("kind"),
    text("asked"),
    text("by"),
    sa.Column("state", word(JobState), nullable=False),
    sa.Column("done", sa.BigInteger, nullable=False),
    sa.Column("total", sa.BigInteger, nullable=False),
    text("words"),
    text("result"),
    sa.Column("queued_at", Instant, nullable=False),
    sa.Column("ended_at", Instant),
    text("owner"),
    sa.Column("lease_until_at", Instant),
    sa.Column("tries", sa.Integer, nullable=False),
    sa.Index(None, "state", "queued_at"),
)

job_file = sa.Table(
    "job_file",
    METADATA,
    text("number", key=True),
    text("name", key=True),
    text("media_type"),
    sa.Column("content", sa.LargeBinary, nullable=False),
)
