"""Which columns have the tables kept beside the record: numbers, extensions, reports, reviews?"""

from __future__ import annotations

from collections.abc import Iterator

from fleet.domain.evidence import (
    Action,
    Effect,
    Extension,
    Renumbering,
    Review,
    ServiceReport,
)
from fleet.files import cells
from fleet.files.table_shapes import (
    FROM,
    NUMBER,
    TASK,
    WITHDRAWN_COLUMN,
    Column,
    RowFault,
    Table,
    entry_key,
    name,
    notes,
    short,
)

__all__ = ["EVIDENCE_TABLES"]


def _renumbering_faults(renumbering: Renumbering) -> Iterator[RowFault]:
    if renumbering.former == renumbering.property_number:
        problem = "it is the former number"
        yield RowFault("property_number", problem, "write the number the unit bears now")


def _extension_faults(extension: Extension) -> Iterator[RowFault]:
    if extension.until_on < extension.from_on:
        problem = f"{extension.until_on} is before from {extension.from_on}"
        yield RowFault("until", problem, "check both dates; both are included")


def _review_faults(review: Review) -> Iterator[RowFault]:
    if review.reviewed_on is not None and not review.reviewed_by:
        yield RowFault("reviewed_by", "nobody signed the review", "write who reviewed the month")
    if review.reviewed_on is None and review.reviewed_by:
        yield RowFault("reviewed_on", "the review has no date", "write the day it was signed")


def _action_faults(action: Action) -> Iterator[RowFault]:
    """A closed one says what was done, by whom, and who found that it worked (42 CFR 493.1239)."""
    if action.closed_on is None:
        return
    if action.closed_on < action.opened_on:
        problem = f"{action.closed_on} is before opened_on {action.opened_on}"
        yield RowFault("closed_on", problem, "check both dates")
    for column in ("action", "responsible", "reviewed_by"):
        if not getattr(action, column):
            yield RowFault(column, "it is closed without it", "fill it, or leave closed_on empty")
    if action.effective is not Effect.YES:
        mend = "leave closed_on empty until a review finds that the action worked"
        yield RowFault("effective", "it is closed but not known to have worked", mend)


EVIDENCE_TABLES = (
    Table(
        "renumberings",
        (
            Column("former", short, required=True),
            Column("property_number", short, required=True),
            FROM,
        ),
        Renumbering,
        _renumbering_faults,
    ),
    Table(
        "extensions",
        (
            NUMBER,
            TASK,
            FROM,
            Column("until", cells.civil_date, required=True, is_key=False, field="until_on"),
            Column("reason", notes, required=True, is_key=False),
            Column("granted_by", name, required=True, is_key=False),
            WITHDRAWN_COLUMN,
        ),
        Extension,
        _extension_faults,
    ),
    Table(
        "reports",
        (
            NUMBER,
            TASK,
            Column("on", cells.civil_date, required=True),
            Column("vendor", name),
            Column("technician", name),
            Column("findings", notes),
            Column("certificate", cells.sha256),
            Column("certificate_name", name),
            Column("entry", entry_key),
        ),
        ServiceReport,
    ),
    Table(
        "actions",
        (
            Column("number", entry_key, required=True),
            Column("site", short, required=True),
            Column("property_number", short),
            Column("task", short),
            Column("entry", entry_key),
            Column("opened_on", cells.civil_date, required=True),
            Column("problem", notes, required=True),
            Column("action", notes),
            Column("responsible", name),
            Column("review_on", cells.civil_date, empty=None),
            Column("effective", cells.choice(Effect, "effect"), empty=None),
            Column("reviewed_by", name),
            Column("closed_on", cells.civil_date, empty=None),
        ),
        Action,
        _action_faults,
    ),
    Table(
        "reviews",
        (
            Column("site", short, required=True),
            Column("month", cells.month, required=True),
            Column("returned_on", cells.civil_date, empty=None),
            Column("reviewed_on", cells.civil_date, empty=None),
            Column("reviewed_by", name),
            Column("note", notes),
            WITHDRAWN_COLUMN,
        ),
        Review,
        _review_faults,
    ),
)
