"""Which tables say who may open the pages? They are at work: neither chained nor exported."""

from __future__ import annotations

import sqlalchemy as sa

from fleet.domain.access import Act
from fleet.storage.columns import Instant, word
from fleet.storage.metadata import METADATA, text

__all__ = [
    "access_event",
    "account",
    "api_token",
    "attempt",
    "bench_device",
    "bench_person",
    "web_session",
]


def _instant(name: str, *, empty: bool = False) -> sa.Column[object]:
    return sa.Column(name, Instant, nullable=empty)


account = sa.Table(
    "account",
    METADATA,
    text("email", key=True),
    text("password_hash"),
    _instant("password_at"),
    text("totp_key"),
    sa.Column("totp_step", sa.BigInteger, nullable=False),
    _instant("made_at"),
    _instant("disabled_at", empty=True),
)

web_session = sa.Table(
    "web_session",
    METADATA,
    text("token_hash", key=True),
    text("email"),
    text("device"),
    text("initials"),
    sa.Column("is_whole", sa.Boolean, nullable=False),
    _instant("made_at"),
    _instant("seen_at"),
    _instant("ends_at"),
    text("label"),
    sa.Index(None, "email"),
    sa.Index(None, "ends_at"),
)

bench_device = sa.Table(
    "bench_device",
    METADATA,
    text("number", key=True),
    sa.Column("site", sa.ForeignKey("site.site"), nullable=False),
    text("name"),
    text("token_hash"),
    text("enrolled_by"),
    _instant("enrolled_at"),
    _instant("ended_at", empty=True),
    sa.UniqueConstraint("token_hash"),
)

bench_person = sa.Table(
    "bench_person",
    METADATA,
    sa.Column("site", sa.ForeignKey("site.site"), primary_key=True),
    text("initials", key=True),
    text("name"),
    text("pin_hash"),
    text("made_by"),
    _instant("made_at"),
    _instant("ended_at", empty=True),
)

api_token = sa.Table(
    "api_token",
    METADATA,
    text("number", key=True),
    text("token_hash"),
    text("name"),
    text("email"),
    sa.Column("may_write", sa.Boolean, nullable=False),
    _instant("made_at"),
    _instant("ends_at"),
    _instant("ended_at", empty=True),
    _instant("seen_at", empty=True),
    sa.UniqueConstraint("token_hash"),
    sa.Index(None, "email"),
)

# One row a try that failed; `bucket` says of what: an account, an address, a bench.
attempt = sa.Table(
    "attempt",
    METADATA,
    text("number", key=True),
    text("bucket"),
    _instant("at"),
    sa.Index(None, "bucket", "at"),
)

access_event = sa.Table(
    "access_event",
    METADATA,
    text("number", key=True),
    _instant("at"),
    sa.Column("act", word(Act, 48), nullable=False),
    text("who"),
    text("address"),
    text("about"),
    sa.Index(None, "at"),
)
