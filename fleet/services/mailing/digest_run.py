"""What would everybody be sent on a day? The questions that the digests of one day ask."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping

from fleet.domain.chain import root_of
from fleet.domain.records import Role
from fleet.services.charts.status import missing_charts
from fleet.services.columns import book_of
from fleet.services.due import due_rows
from fleet.services.findings import finding_rows
from fleet.services.mailing.digest import Beside, DigestRun, RecordRoot, digests
from fleet.services.months import usual_span
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.questions import Question
from fleet.services.reviews import review_rows
from notifications.facts import GAP_DAYS
from notifications.messages import Kind
from notifications.settings import Settings

__all__ = ["digest_run", "sealed_root"]


def digest_run(
    record: Record,
    public_holidays: PublicHolidays,
    question: Question,
    on: dt.date,
    settings: Settings,
    roles: Collection[Role] = (),
    root: RecordRoot | None = None,
    beside: Beside | None = None,
    chosen: Collection[tuple[str, Kind]] | None = None,
    send_at: Mapping[Kind, dt.time] | None = None,
) -> tuple[DigestRun, list[str]]:
    """Write every digest of a day, and name the units that could not be answered.

    question: of that day; the gaps told are those that closed in the GAP_DAYS days before it, the
    months those of the last year that wait for a review, the charts those that are to be printed.
    roles: only to people in these; empty for all. root: the one that was sealed; None: the present
    one. beside, chosen, send_at: as `digests`.
    """
    due = due_rows(record, public_holidays, question)
    first_on, last_on = on - dt.timedelta(days=GAP_DAYS), on - dt.timedelta(days=1)
    gaps = finding_rows(record, public_holidays, first_on, last_on, question, "gap")
    span = usual_span(on)
    months = review_rows(record, public_holidays, *span, question, counts_gaps=False)
    register = record.register(question.known_at)
    run = digests(
        register,
        book_of(register),
        due.rows,
        gaps,
        on,
        settings,
        root or RecordRoot(root_of(record.heads()), question.now),
        months,
        roles=roles,
        unprinted=missing_charts(record, public_holidays, question),
        beside=beside or Beside(),
        chosen=chosen,
        send_at=send_at,
    )
    return run, due.failures


def sealed_root(record: Record, roles: Collection[Role], stamp: Stamp) -> RecordRoot | None:
    """Keep the present root as one that is given out, so that it can be found again; None, and
    nothing is kept, where no manager is to be written to. The caller commits.
    """
    if roles and Role.MANAGER not in roles:
        return None
    if all(person.role is not Role.MANAGER for person in record.register().people.values()):
        return None
    seal = record.seal(stamp)
    return RecordRoot(seal.root, seal.sealed_at)
