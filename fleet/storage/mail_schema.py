"""Which tables hold the mail: who is away, when it is quiet, what is on its way, what was told?

absence, quiet_period and mail_setting belong to the register and change by change lines. The others
are at work: they say where each message stands, and are neither chained nor exported.
"""

from __future__ import annotations

import sqlalchemy as sa

from fleet.storage.columns import Instant
from fleet.storage.metadata import METADATA, day, text

__all__ = [
    "absence",
    "calendar_event",
    "calendar_feed",
    "mail_address",
    "mail_link",
    "mail_setting",
    "outbox",
    "outbox_content",
    "quiet_period",
    "told",
    "worker",
]


def _instant(name: str, *, empty: bool = False) -> sa.Column[object]:
    return sa.Column(name, Instant, nullable=empty)


def _count(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False)


absence = sa.Table(
    "absence",
    METADATA,
    text("email", key=True),
    day("from_on", key=True),
    day("to_on"),
    text("deputy"),
)

quiet_period = sa.Table(
    "quiet_period",
    METADATA,
    text("site", key=True),
    day("from_on", key=True),
    day("to_on"),
    text("reason"),
)

mail_setting = sa.Table("mail_setting", METADATA, text("name", key=True), text("value"))

# `key` is the hash of recipient, kind and period; `day` is the reader's day that the mail takes, of
# which everybody has one, and null for calendar changes and for what is not sent at all.
outbox = sa.Table(
    "outbox",
    METADATA,
    text("key", key=True),
    text("recipient"),
    text("kind"),
    text("period"),
    day("day", empty=True),
    text("name"),
    text("language"),
    text("subject"),
    text("message_id"),
    text("envelope_from"),
    text("envelope_to"),
    text("state"),
    text("reason"),
    _instant("planned_at"),
    _instant("stale_at"),
    _instant("next_at", empty=True),
    _instant("lease_until_at", empty=True),
    text("claimed_by"),
    _count("attempts"),
    _count("uncertain"),
    _instant("settled_at", empty=True),
    sa.Column("code", sa.Integer),
    text("answer"),
    sa.UniqueConstraint("recipient", "kind", "period"),
    sa.UniqueConstraint("recipient", "day"),
    sa.Index(None, "state", "next_at"),
)

outbox_content = sa.Table(
    "outbox_content",
    METADATA,
    text("key", key=True),
    sa.Column("content", sa.LargeBinary, nullable=False),
)

# What a person was told before: `item` names it, `standing` how it stood then.
told = sa.Table(
    "told",
    METADATA,
    text("recipient", key=True),
    text("item", key=True),
    text("standing"),
    day("first_on"),
    day("last_on"),
    _count("times"),
)

mail_address = sa.Table(
    "mail_address",
    METADATA,
    text("address", key=True),
    _count("refusals"),
    _instant("suspended_at", empty=True),
    text("answer"),
)

# One row a duty of the program's own: `timetable` (who leads, the last instant it looked at the
# clock, since when it runs) and `dispatch` (until when sending has stopped, and for which fault).
worker = sa.Table(
    "worker",
    METADATA,
    text("duty", key=True),
    text("owner"),
    _count("term"),
    _instant("until_at", empty=True),
    _instant("begun_at", empty=True),
    _instant("looked_at", empty=True),
    text("fault"),
)

mail_link = sa.Table(
    "mail_link",
    METADATA,
    text("token_hash", key=True),
    text("email"),
    text("purpose"),
    text("scope"),
    _instant("made_at"),
    _instant("ends_at"),
    _instant("used_at", empty=True),
    text("used_by"),
)

calendar_feed = sa.Table(
    "calendar_feed",
    METADATA,
    text("token_hash", key=True),
    text("email"),
    _instant("made_at"),
    _instant("revoked_at", empty=True),
)

# An event as it was last told: `about` says of what, `content` is canonical JSON.
calendar_event = sa.Table(
    "calendar_event",
    METADATA,
    text("uid", key=True),
    text("about"),
    text("site"),
    text("content"),
    _count("sequence"),
    _instant("revised_at"),
    _instant("cancelled_at", empty=True),
    sa.UniqueConstraint("about"),
)
