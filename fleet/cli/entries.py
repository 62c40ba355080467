"""How is an entry answered with, once it stands on the record? With what it makes due next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING

from fleet.cli.cautions import cautions_text
from fleet.cli.effects import effect_fields, then_lines
from fleet.cli.output import Form, one_line, show_object
from fleet.cli.picture import standing
from fleet.domain.answers import StatusRow
from fleet.domain.records import StoredEntry
from fleet.errors import NotFound, Unanswered
from fleet.services.effect_words import first_line
from fleet.services.entry_effects import Effects
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
    stored: StoredEntry,
    after: Explanation | None,
    form: Form,
    said: str,
    *,
    warns: bool = False,
    more: Mapping[str, object] | None = None,
    effects: Effects | None = None,
) -> None:
    """Print an entry as one object, or `said`, the cautions if it `warns`, and what is next.

    more: further fields of the object; effects: what followed from the entry.
    """
    if effects is not None:
        more = {**(more or {}), **effect_fields(effects)}
    opened = effects is not None and bool(effects.cautions)
    entry, row = asdict(stored.entry), after.row if after else None
    warnings = effects.cautions if effects and opened else after.cautions if after else ()
    cautions = cautions_text(warnings) if warns or opened else ""
    fields = {
        **{name.removesuffix("_on"): value or None for name, value in entry.items()},
        "stored_at": stored.stored_at,
        "by": stored.by,
        "source": stored.source,
        **(more or {}),
        **{f"next_{name}": row and getattr(row, name) for name in _NEXT},
    }
    told, now = one_line(said), _next_words(row)
    if effects is not None and (first := first_line(effects)):
        told += f"\n{first}"
    followed = "".join(f"{line}\n" for line in then_lines(effects)) if effects else ""
    text = f"{told}\n{cautions}\n{followed}{now}" if cautions or followed else f"{told} {now}"
    text = text.replace("\n\n", "\n")
    show_object(fields, form, text.strip)


_NEXT = ("state", "opens", "due", "limit")


def _next_words(row: StatusRow | None) -> str:
    if row is None:
        return ""
    if row.state == "upcoming" and row.due is not None:
        return f"Next due {day(row.due)}."
    is_late = row.state == "overdue" and row.basis != "cell"
    return f"Now: {'overdue, ' if is_late else ''}{standing(row)}."
