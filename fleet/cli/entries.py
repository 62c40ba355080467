"""How is an entry answered with, once it stands on the record? With what it makes due next."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from fleet.cli.cautions import cautions_text
from fleet.cli.output import Form, one_line, show_object
from fleet.cli.picture import standing
from fleet.domain.answers import StatusRow
from fleet.domain.records import StoredEntry
from fleet.errors import NotFound, Unanswered
from fleet.services.ports import Record
from fleet.services.questions import Explanation, Question
from fleet.services.why import explain_row
from notifications.digests.words import day

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["explained", "show_entry"]


def explained(program: Program, record: Record, stored: StoredEntry) -> Explanation | None:
    """How its unit and task stand after an entry, today; None where that has no answer."""
    number, task = stored.entry.property_number, stored.entry.task
    question = Question(now=program.clock())
    try:
        return explain_row(record, program.public_holidays, number, task, question)
    except (NotFound, Unanswered):
        return None


def show_entry(
    stored: StoredEntry, after: Explanation | None, form: Form, said: str, *, warns: bool = False
) -> None:
    """Print an entry as one object, or `said`, the cautions if it `warns`, and what is next."""
    entry, row = asdict(stored.entry), after.row if after else None
    cautions = cautions_text(after.cautions) if after and warns else ""
    fields = {
        **{name.removesuffix("_on"): value or None for name, value in entry.items()},
        "stored_at": stored.stored_at,
        "by": stored.by,
        "source": stored.source,
        **{f"next_{name}": row and getattr(row, name) for name in _NEXT},
    }
    told, now = one_line(said), _next_words(row)
    text = f"{told}\n{cautions}\n{now}" if cautions else f"{told} {now}"
    show_object(fields, form, text.strip)


_NEXT = ("state", "opens", "due", "limit")


def _next_words(row: StatusRow | None) -> str:
    if row is None:
        return ""
    if row.state == "upcoming" and row.due is not None:
        return f"Next due {day(row.due)}."
    is_late = row.state == "overdue" and row.basis != "cell"
    return f"Now: {'overdue, ' if is_late else ''}{standing(row)}."
