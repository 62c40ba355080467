"""Which tables hold the vendor's visits? All belong to the register and change by change lines."""

from __future__ import annotations

import sqlalchemy as sa

from fleet.domain.visits import VisitState
from fleet.storage.columns import word
from fleet.storage.metadata import METADATA, day, text
from schedules.visits.model import Grade

__all__ = ["site_visit", "technician_days_off", "unsuitable_days", "visit_plan"]


visit_plan = sa.Table(
    "visit_plan",
    METADATA,
    text("number", key=True),
    day("made_on"),
    day("from_on"),
    day("to_on"),
    text("follows"),
    sa.Column("seed", sa.BigInteger, nullable=False),
    sa.Column("iterations", sa.BigInteger, nullable=False),
    text("versions"),
    text("content"),
)

site_visit = sa.Table(
    "site_visit",
    METADATA,
    text("number", key=True),
    text("plan"),
    text("technician"),
    text("vendor"),
    sa.Column("site", sa.ForeignKey("site.site"), nullable=False),
    day("trip_on"),
    day("on"),
    day("to_on"),
    text("from_at"),
    text("to_at"),
    text("needs"),
    sa.Column("grade", word(Grade), nullable=False),
    sa.Column("state", word(VisitState), nullable=False),
    day("told_on", empty=True),
    day("done_on", empty=True),
    text("not_done"),
    text("reason"),
)

unsuitable_days = sa.Table(
    "unsuitable_days",
    METADATA,
    sa.Column("site", sa.ForeignKey("site.site"), primary_key=True),
    day("from_on", key=True),
    day("to_on"),
    text("reason"),
)

technician_days_off = sa.Table(
    "technician_days_off",
    METADATA,
    text("technician", key=True),
    day("from_on", key=True),
    day("to_on"),
    text("reason"),
)
