"""Which tables hold scanned charts until they are accepted? Neither chained nor exported.

A file's content stands here until it is attached to the record, a page's picture until the page is
settled. `warnings` is a JSON list of texts.
"""

from __future__ import annotations

import sqlalchemy as sa

from fleet.domain.scan_sheets import Answer, SheetState
from fleet.domain.scans import Doubt, Verdict
from fleet.storage.columns import Instant, word
from fleet.storage.metadata import METADATA, text

__all__ = ["scan_cell", "scan_file", "scan_sheet"]

scan_cell = sa.Table(
    "scan_cell",
    METADATA,
    sa.Column("sheet", sa.ForeignKey("scan_sheet.number"), primary_key=True),
    sa.Column("row", sa.Integer, primary_key=True),
    sa.Column("slot", sa.Integer, primary_key=True),
    sa.Column("verdict", word(Verdict), nullable=False),
    sa.Column("confidence", sa.Double, nullable=False),
    sa.Column("doubt", word(Doubt, 32)),
    sa.Column("answer", word(Answer)),
    text("words"),
    text("answered_by"),
    sa.Column("answered_at", Instant),
)

scan_sheet = sa.Table(
    "scan_sheet",
    METADATA,
    text("number", key=True),
    sa.Column("file", sa.ForeignKey("scan_file.sha256"), nullable=False),
    sa.Column("place", sa.Integer, nullable=False),
    text("print"),
    sa.Column("page", sa.Integer, nullable=False),
    text("site"),
    text("problem"),
    text("warnings"),
    sa.Column("state", word(SheetState), nullable=False),
    text("settled_by"),
    sa.Column("settled_at", Instant),
    sa.Column("accepted", sa.Integer, nullable=False),
    sa.Column("flat", sa.LargeBinary),
    sa.Index(None, "state", "site"),
    sa.Index(None, "print", "page"),
    sa.Index(None, "file"),
)

scan_file = sa.Table(
    "scan_file",
    METADATA,
    text("sha256", key=True),
    text("name"),
    text("media_type"),
    sa.Column("size", sa.Integer, nullable=False),
    text("by"),
    sa.Column("sent_at", Instant, nullable=False),
    sa.Column("content", sa.LargeBinary),
)
