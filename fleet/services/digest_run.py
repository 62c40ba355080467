"""What would everybody be sent on a day? The questions that the digests of one day ask."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection

from fleet.domain.records import Role
from fleet.services.columns import book_of
from fleet.services.digest import DigestRun, digests
from fleet.services.due import due_rows
from fleet.services.findings import finding_rows
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Question
from notifications.facts import GAP_DAYS
from notifications.settings import Settings

__all__ = ["digest_run"]


def digest_run(
    record: Record,
    public_holidays: PublicHolidays,
    question: Question,
    on: dt.date,
    settings: Settings,
    roles: Collection[Role] = (),
) -> tuple[DigestRun, list[str]]:
    """Write every digest of a day, and name the units that could not be answered.

    question: of that day; the gaps told are those that closed in the GAP_DAYS days before it.
    roles: only to people in these; empty for all.
    """
    due = due_rows(record, public_holidays, question)
    first_on, last_on = on - dt.timedelta(days=GAP_DAYS), on - dt.timedelta(days=1)
    gaps = finding_rows(record, public_holidays, first_on, last_on, question, "gap")
    register = record.register(question.known_at)
    run = digests(register, book_of(register), due.rows, gaps, on, settings, roles=roles)
    return run, due.failures
