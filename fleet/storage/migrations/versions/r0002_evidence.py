"""Heads of chains, seals, tombstones; reviews, actions, reports, extensions, numbers, attachments.

Holiday years get a chain of their own; the heads of chains that are there already are read off.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from fleet.storage import append_only
from fleet.storage.canonical import START, canonical_json, instant_text, link
from fleet.storage.columns import Instant

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables, chain the holiday years and read off the heads."""
    _heads()
    _chained_tables()
    _register_tables()
    _quality_tables()
    _chain_holiday_years()
    _read_off_heads()
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


def _seq() -> sa.Column[object]:
    return sa.Column("seq", sa.Integer, nullable=False, autoincrement=False)


def _chained() -> list[sa.Column[object]]:
    return [
        sa.Column("stored_at", Instant, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("prev_hash", sa.LargeBinary(32), nullable=False),
        sa.Column("hash", sa.LargeBinary(32), nullable=False),
    ]


def _heads() -> None:
    op.create_table(
        "chain_head",
        _text("chain"),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("hash", sa.LargeBinary(32), nullable=False),
        _key("chain_head", "chain"),
        sqlite_with_rowid=False,
    )


def _chained_tables() -> None:
    op.create_table(
        "seal", _seq(), _text("root"), _text("lengths"), *_chained(), _key("seal", "seq")
    )
    op.create_table(
        "tombstone",
        _seq(),
        _text("of_chain"),
        sa.Column("of_seq", sa.Integer, nullable=False),
        *(_text(word) for word in ("key", "of_hash", "left_hash", "reason")),
        *_chained(),
        _key("tombstone", "seq"),
    )
    op.create_table(
        "attachment",
        _seq(),
        *(_text(word) for word in ("sha256", "name", "media_type")),
        sa.Column("size", sa.Integer, nullable=False),
        *_chained(),
        _key("attachment", "seq"),
        sa.UniqueConstraint("sha256", name=op.f("uq_attachment_sha256")),
    )
    op.create_table(
        "attachment_content",
        _text("sha256"),
        sa.Column("content", sa.LargeBinary, nullable=False),
        _key("attachment_content", "sha256"),
    )


def _register_tables() -> None:
    op.create_table(
        "renumbering",
        *(_text(word) for word in ("former", "property_number")),
        _day("from_on"),
        _key("renumbering", "former"),
    )
    op.create_table(
        "extension",
        *(_text(word) for word in ("property_number", "task")),
        *(_day(day) for day in ("from_on", "until_on")),
        *(_text(word) for word in ("reason", "granted_by")),
        _key("extension", "property_number", "task", "from_on"),
        _reference("extension", "property_number", "unit", "property_number"),
    )
    words = ("vendor", "technician", "findings", "certificate", "certificate_name", "entry")
    op.create_table(
        "service_report",
        *(_text(word) for word in ("property_number", "task")),
        _day("on"),
        *(_text(word) for word in words),
        _key("service_report", "property_number", "task", "on"),
        _reference("service_report", "property_number", "unit", "property_number"),
    )


def _quality_tables() -> None:
    op.create_table(
        "action",
        *(_text(word) for word in ("number", "site", "property_number", "task", "entry")),
        _day("opened_on"),
        *(_text(word) for word in ("problem", "action", "responsible")),
        _day("review_on", empty=True),
        sa.Column("effective", sa.String(16)),
        _text("reviewed_by"),
        _day("closed_on", empty=True),
        _key("action", "number"),
        _reference("action", "site", "site", "site"),
    )
    op.create_table(
        "review",
        *(_text(word) for word in ("site", "month")),
        *(_day(day, empty=True) for day in ("returned_on", "reviewed_on")),
        *(_text(word) for word in ("reviewed_by", "note")),
        _key("review", "site", "month"),
        _reference("review", "site", "site", "site"),
    )


_YEAR = ("country", "subdivision", "year", "names", "origin")


def _chain_holiday_years() -> None:
    """Make the table anew with a chain; its lines keep their instant, nobody is known to be by."""
    old = sa.table("holiday_year", *(sa.column(c) for c in _YEAR), sa.column("stored_at", Instant))
    bind = op.get_bind()
    query = sa.select(old).order_by("stored_at", "country", "subdivision", "year")
    rows = [row._asdict() for row in bind.execute(query)]
    op.drop_table("holiday_year")
    words = (_text(word) for word in ("country", "subdivision"))
    op.create_table(
        "holiday_year",
        _seq(),
        *words,
        sa.Column("year", sa.Integer, nullable=False),
        *(_text(word) for word in ("names", "origin")),
        *_chained(),
        _key("holiday_year", "seq"),
    )
    previous, lines = START, []
    for seq, row in enumerate(rows, start=1):
        line = {**row, "seq": seq, "by": "", "source": "upgrade"}
        content = {**line, "stored_at": instant_text(row["stored_at"])}
        digest = link(previous, canonical_json(content))
        lines.append({**line, "prev_hash": previous, "hash": digest})
        previous = digest
    chained = sa.table(
        "holiday_year",
        *(sa.column(c) for c in ("seq", *_YEAR, "by", "source", "prev_hash", "hash")),
        sa.column("stored_at", Instant),
    )
    if lines:
        bind.execute(sa.insert(chained), lines)


_LAST_LINES = (
    "SELECT 'entry/' || u.property_number, e.seq, e.hash FROM entry e"
    " JOIN unit u ON u.id = e.unit_id"
    " WHERE e.seq = (SELECT max(l.seq) FROM entry l WHERE l.unit_id = e.unit_id)",
    "SELECT 'register/' || c.chain, c.seq, c.hash FROM change_line c"
    " WHERE c.seq = (SELECT max(l.seq) FROM change_line l WHERE l.chain = c.chain)",
    "SELECT 'rule_book', seq, hash FROM rule_book ORDER BY seq DESC LIMIT 1",
    "SELECT 'holiday_year', seq, hash FROM holiday_year ORDER BY seq DESC LIMIT 1",
)


def _read_off_heads() -> None:
    for query in _LAST_LINES:
        op.execute(f"INSERT INTO chain_head (chain, seq, hash) SELECT * FROM ({query}) AS l")  # noqa: S608
