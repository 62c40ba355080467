"""A site with a month of charts that is looked back on: the audit's fleet, and reviews of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, cast

from fleet.services.kept import rebuild
from fleet.services.ports import Record, Stamp
from fleet.services.questions import Narrow, Question
from fleet.services.reviews import ReviewRow, review, review_rows
from tests.fleet.services.audit_fleet import AuditFleet, at
from tests.reference.bridge import NoPublicHolidays

__all__ = ["APRIL_6", "LATER", "ReviewFleet", "april"]


def april(day: int) -> dt.date:
    """A day of April 2026."""
    return dt.date(2026, 4, day)


APRIL_6, LATER = at(april(6), 9), at(april(20), 9)
"""When the consultant signs March, and when she looks again."""


@dataclass
class ReviewFleet:
    """Alder and Birch with the record of March 2026, asked for reviews."""

    audit: AuditFleet

    @classmethod
    def clean(cls, *left_out: tuple[str, dt.date], **unit_fields: Any) -> ReviewFleet:
        """As AuditFleet.clean."""
        return cls(AuditFleet.clean(*left_out, **unit_fields))

    @property
    def record(self) -> Record:
        """The record, with what it keeps brought up to date."""
        record = cast("Record", self.audit.record)
        rebuild(record, list(self.audit.record.ids.values()), NoPublicHolidays())
        return record

    def sign(
        self, site: str = "alder", month: str = "2026-03", when: dt.datetime = APRIL_6, **how: Any
    ) -> ReviewRow:
        """Sign a month, or note what `how` says."""
        words = {"by": "Noor Northgate", **how}
        stamp = Stamp(when, "command:noor", "command")
        return review(self.record, NoPublicHolidays(), site, month, stamp=stamp, **words)

    def rows(
        self,
        from_month: str = "2026-03",
        to_month: str = "2026-03",
        *,
        now: dt.datetime = LATER,
        on: dt.date | None = None,
        known_at: dt.datetime | None = None,
        **narrow: tuple[str, ...],
    ) -> list[ReviewRow]:
        """What is to be reviewed, looked at on 20 April."""
        question = Question(now=now, on=on, known_at=known_at, narrow=Narrow(**narrow))
        return review_rows(self.record, NoPublicHolidays(), from_month, to_month, question)

    def states(self, *span: str, **asked: Any) -> dict[tuple[str, str], tuple[str, str | None]]:
        """State and what touched it, by site and month."""
        found = self.rows(*span, **asked)
        return {(row.site, row.month): (row.state, row.touched_by) for row in found}

    def state(self, site: str = "alder", **asked: Any) -> tuple[str, str | None]:
        """State of March, and what touched it."""
        return self.states(**asked)[site, "2026-03"]
