"""How is an act of a unit's life answered with? What stands, what is next, what to do now."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from fleet.cli.grids import grid, heading, printed, terminal_width
from fleet.cli.output import Form, one_line, show_object
from fleet.cli.picture import standing
from fleet.domain.answers import StatusRow
from fleet.services.life.acts import Act

__all__ = ["show_act"]

_INDENT = 2


def show_act(act: Act, form: Form) -> None:
    """Print an act: as one object, or as its sentences, the rows of `due`, and what to do."""
    fields = {
        **act.facts,
        "said": act.said,
        "todo": act.todo,
        "next": [f"{row.task}: {standing(row)}" for row in act.rows],
    }
    show_object(fields, form, lambda: _text(act))


def _text(act: Act) -> str:
    parts = ["\n".join(_folded(sentence, "", "") for sentence in act.said)]
    if act.rows:
        parts.append(_next(act.rows))
    if act.todo:
        parts.append("\n".join(["To do:", *(_todo(one) for one in act.todo)]))
    return "\n\n".join(part.rstrip("\n") for part in parts)


def _next(rows: Sequence[StatusRow]) -> str:
    """The rows, what is due soonest first; those without a due date last."""
    lines = [(row.task, row.state, standing(row)) for row in sorted(rows, key=_soonest)]
    table = [(task, told if told != state else "", state) for task, state, told in lines]
    return printed(heading("Next:"), grid([(" " * _INDENT + t, s, w) for t, w, s in table]))


def _soonest(row: StatusRow) -> tuple[bool, str]:
    return row.limit is None, str(row.limit)


def _todo(sentence: str) -> str:
    """A sentence, and a command in it on a line of its own, which is never folded."""
    words, found, line = one_line(sentence).partition("dueward ")
    told = _folded(words.rstrip(), "- ", "  ")
    return f"{told}\n    {found}{line}" if found else told


def _folded(sentence: str, first: str, later: str) -> str:
    return textwrap.fill(
        one_line(sentence),
        terminal_width(),
        initial_indent=first,
        subsequent_indent=later,
        break_on_hyphens=False,
    )
