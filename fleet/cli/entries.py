"""How is an entry answered with, once it stands on the record? With what it makes due next."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from fleet.cli.output import Form, one_line, show_object
from fleet.cli.picture import standing
from fleet.domain.answers import StatusRow
from fleet.domain.records import StoredEntry
from fleet.errors import NotFound
from fleet.services.ports import Record
from fleet.services.questions import Question
from fleet.services.why import explain_row
from notifications.digests.words import day

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["next_row", "show_entry"]


def next_row(program: Program, record: Record, stored: StoredEntry) -> StatusRow | None:
    """The row of `due` after an entry, today; None where no rule of its task is in force."""
    number, task = stored.entry.property_number, stored.entry.task
    question = Question(now=program.clock())
    try:
        return explain_row(record, program.public_holidays, number, task, question).row
    except NotFound:
        return None


def show_entry(stored: StoredEntry, row: StatusRow | None, form: Form, said: str) -> None:
    """Print an entry as one object, or `said` and what is next as sentences."""
    entry = asdict(stored.entry)
    fields = {
        **{name.removesuffix("_on"): value or None for name, value in entry.items()},
        "stored_at": stored.stored_at,
        "by": stored.by,
        "source": stored.source,
        **{f"next_{name}": row and getattr(row, name) for name in _NEXT},
    }
    show_object(fields, form, lambda: one_line(f"{said} {_next_words(row)}".strip()))


_NEXT = ("state", "opens", "due", "limit")


def _next_words(row: StatusRow | None) -> str:
    if row is None:
        return ""
    if row.due is None or row.state == "overdue":
        return f"Now: {standing(row)}."
    return f"Next due {day(row.due)}."
