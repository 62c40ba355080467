"""Which tables hold a fleet? The schema as it is now; how it came to be stands in migrations/.

The tables of APPEND_ONLY are hash-chained (canonical), and chain_head holds where each chain ends.
The tables of the register are what the change lines add up to; marked_year is what entries add up
to. An attachment's content stands apart from its line, so that it can go when its time is over.
"""

from __future__ import annotations

import sqlalchemy as sa

from fleet.domain.evidence import Effect
from fleet.domain.records import Mark, Role
from fleet.storage.columns import Instant, word
from fleet.storage.mail_schema import absence, mail_setting, quiet_period
from fleet.storage.metadata import METADATA
from fleet.storage.metadata import day as _day
from fleet.storage.metadata import text as _text
from fleet.storage.visit_schema import (
    site_visit,
    technician_days_off,
    unsuitable_days,
    visit_plan,
)

__all__ = [
    "APPEND_ONLY",
    "HEAD",
    "METADATA",
    "REVISIONS",
    "absence",
    "action",
    "attachment",
    "attachment_content",
    "chain_head",
    "change_line",
    "chart_print",
    "closure",
    "entry",
    "extension",
    "holiday",
    "holiday_year",
    "kept_tick",
    "mail_setting",
    "marked_year",
    "outage",
    "person",
    "placement",
    "quiet_period",
    "renumbering",
    "review",
    "rule_book",
    "seal",
    "service_report",
    "site",
    "site_visit",
    "technician_days_off",
    "tombstone",
    "unit",
    "unsuitable_days",
    "visit_plan",
    "weekly_pattern",
]

REVISIONS = ("0001", "0002", "0003", "0004", "0005", "0006", "0007", "0008", "0009", "0010")
"""Every schema there has been, oldest first; a test holds this against the migration scripts."""
HEAD = REVISIONS[-1]

APPEND_ONLY = (
    "entry",
    "change_line",
    "rule_book",
    "holiday_year",
    "attachment",
    "attachment_content",
    "tombstone",
    "seal",
)


def _chained() -> list[sa.Column[object]]:
    """The columns that every append-only line ends with."""
    return [
        sa.Column("stored_at", Instant, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("prev_hash", sa.LargeBinary(32), nullable=False),
        sa.Column("hash", sa.LargeBinary(32), nullable=False),
    ]


site = sa.Table(
    "site",
    METADATA,
    _text("site", key=True),
    _text("name"),
    _text("county"),
    _text("region"),
    _text("country"),
    _text("subdivision"),
    _text("time_zone"),
    _text("open_days"),
    sa.Column("latitude", sa.Double),
    sa.Column("longitude", sa.Double),
    _text("postal_code"),
    _text("lead_email"),
)

weekly_pattern = sa.Table(
    "weekly_pattern",
    METADATA,
    sa.Column("site", sa.ForeignKey("site.site"), primary_key=True),
    _day("from_on", key=True),
    _text("open_days"),
)

holiday = sa.Table(
    "holiday",
    METADATA,
    _text("site", key=True),
    _text("country", key=True),
    _text("subdivision", key=True),
    _day("on", key=True),
    _text("name"),
)

closure = sa.Table(
    "closure",
    METADATA,
    _text("site", key=True),
    _day("from_on", key=True),
    _day("to_on"),
    _text("reason"),
    sa.Column("open", sa.Boolean, primary_key=True),
)

unit = sa.Table(
    "unit",
    METADATA,
    sa.Column("id", sa.Integer, sa.Identity(), primary_key=True),
    sa.Column("property_number", sa.Text, nullable=False, unique=True),
    _text("kind"),
    _text("manufacturer"),
    _text("model"),
    _text("serial"),
    sa.Column("site", sa.ForeignKey("site.site"), nullable=False),
    _day("in_service_on"),
    _day("retired_on", empty=True),
    _day("record_from_on", empty=True),
)

placement = sa.Table(
    "placement",
    METADATA,
    sa.Column("property_number", sa.ForeignKey("unit.property_number"), primary_key=True),
    sa.Column("site", sa.ForeignKey("site.site"), nullable=False),
    _day("from_on", key=True),
)

outage = sa.Table(
    "outage",
    METADATA,
    sa.Column("property_number", sa.ForeignKey("unit.property_number"), primary_key=True),
    _day("from_on", key=True),
    _day("to_on", empty=True),
    _text("reason"),
)

person = sa.Table(
    "person",
    METADATA,
    _text("email", key=True),
    _text("name"),
    sa.Column("role", word(Role), primary_key=True),
    _text("site", key=True),
    _text("region", key=True),
    _text("language"),
    _text("time_zone"),
    _text("deputy"),
)

renumbering = sa.Table(
    "renumbering",
    METADATA,
    _text("former", key=True),
    _text("property_number"),
    _day("from_on"),
)

extension = sa.Table(
    "extension",
    METADATA,
    sa.Column("property_number", sa.ForeignKey("unit.property_number"), primary_key=True),
    _text("task", key=True),
    _day("from_on", key=True),
    _day("until_on"),
    _text("reason"),
    _text("granted_by"),
)

service_report = sa.Table(
    "service_report",
    METADATA,
    sa.Column("property_number", sa.ForeignKey("unit.property_number"), primary_key=True),
    _text("task", key=True),
    _day("on", key=True),
    _text("vendor"),
    _text("technician"),
    _text("findings"),
    _text("certificate"),
    _text("certificate_name"),
    _text("entry"),
)

action = sa.Table(
    "action",
    METADATA,
    _text("number", key=True),
    sa.Column("site", sa.ForeignKey("site.site"), nullable=False),
    _text("property_number"),
    _text("task"),
    _text("entry"),
    _day("opened_on"),
    _text("problem"),
    _text("action"),
    _text("responsible"),
    _day("review_on", empty=True),
    sa.Column("effective", word(Effect)),
    _text("reviewed_by"),
    _day("closed_on", empty=True),
)

review = sa.Table(
    "review",
    METADATA,
    sa.Column("site", sa.ForeignKey("site.site"), primary_key=True),
    _text("month", key=True),
    _day("returned_on", empty=True),
    _day("reviewed_on", empty=True),
    _text("reviewed_by"),
    _text("note"),
)

chart_print = sa.Table(
    "chart_print",
    METADATA,
    _text("number", key=True),
    sa.Column("property_number", sa.ForeignKey("unit.property_number"), nullable=False),
    _text("site"),
    sa.Column("year", sa.Integer, nullable=False),
    _day("printed_on"),
    _text("replaces"),
    _text("known_at"),
    _text("paper"),
    _text("layout"),
    sa.Column("pages", sa.Integer, nullable=False),
    _text("geometry"),
    _text("days"),
    _text("rows"),
    _text("cells"),
)

# `new` is the JSON of the record, or 'null' where it is withdrawn (codec).
change_line = sa.Table(
    "change_line",
    METADATA,
    _text("chain", key=True),
    sa.Column("seq", sa.Integer, primary_key=True),
    _text("key"),
    sa.Column("old", sa.Text),
    _text("new"),
    sa.Column("initial", sa.Boolean, nullable=False),
    *_chained(),
)

rule_book = sa.Table(
    "rule_book",
    METADATA,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
    _text("text"),
    _text("sha256"),
    sa.Column("initial", sa.Boolean, nullable=False),
    *_chained(),
)

holiday_year = sa.Table(
    "holiday_year",
    METADATA,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
    _text("country"),
    _text("subdivision"),
    sa.Column("year", sa.Integer, nullable=False),
    _text("names"),
    _text("origin"),
    *_chained(),
)

entry = sa.Table(
    "entry",
    METADATA,
    sa.Column("unit_id", sa.ForeignKey("unit.id"), primary_key=True),
    sa.Column("seq", sa.Integer, primary_key=True),
    sa.Column("key", sa.Text, nullable=False, unique=True),
    _text("task"),
    _day("on"),
    _day("to_on", empty=True),
    sa.Column("mark", word(Mark)),
    _text("initials"),
    _text("note"),
    _text("reading"),
    sa.Column("recorded_at", Instant),
    _text("strikes"),
    _text("why"),
    *_chained(),
)
sa.Index(
    "ix_entry_strikes",
    entry.c.strikes,
    sqlite_where=entry.c.strikes != "",
    postgresql_where=entry.c.strikes != "",
)

marked_year = sa.Table(
    "marked_year",
    METADATA,
    sa.Column("unit_id", sa.ForeignKey("unit.id"), primary_key=True),
    _text("task", key=True),
    sa.Column("year", sa.Integer, primary_key=True),
    sa.Column("marked", sa.LargeBinary(46), nullable=False),
    sa.Column("done", sa.LargeBinary(46), nullable=False),
    sa.Column("extra", sa.LargeBinary(366)),
    sqlite_with_rowid=False,
)

# When what is kept of a unit was replaced last, in ticks of the whole table: whoever keeps answers
# ready asks which units have another one since.
kept_tick = sa.Table(
    "kept_tick",
    METADATA,
    sa.Column("unit_id", sa.ForeignKey("unit.id"), primary_key=True),
    sa.Column("tick", sa.BigInteger, nullable=False),
    sa.Index(None, "tick"),
)

chain_head = sa.Table(
    "chain_head",
    METADATA,
    _text("chain", key=True),
    sa.Column("seq", sa.Integer, nullable=False),
    sa.Column("hash", sa.LargeBinary(32), nullable=False),
    sqlite_with_rowid=False,
)

# `lengths` is a JSON object: how many lines each chain had.
seal = sa.Table(
    "seal",
    METADATA,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
    _text("root"),
    _text("lengths"),
    *_chained(),
)

tombstone = sa.Table(
    "tombstone",
    METADATA,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
    _text("of_chain"),
    sa.Column("of_seq", sa.Integer, nullable=False),
    _text("key"),
    _text("of_hash"),
    _text("left_hash"),
    _text("reason"),
    *_chained(),
)

attachment = sa.Table(
    "attachment",
    METADATA,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("sha256", sa.Text, nullable=False, unique=True),
    _text("name"),
    _text("media_type"),
    sa.Column("size", sa.Integer, nullable=False),
    *_chained(),
)

attachment_content = sa.Table(
    "attachment_content",
    METADATA,
    _text("sha256", key=True),
    sa.Column("content", sa.LargeBinary, nullable=False),
)
