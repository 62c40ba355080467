"""`dueward why`: how one due date comes about, step by step."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import click

from fleet.cli.cautions import cautions_text
from fleet.cli.grids import terminal_width
from fleet.cli.options import asks, examples, formatted, opens_program
from fleet.cli.output import Form, one_line, show_object
from fleet.services.questions import Explanation, Question
from fleet.services.why import explain_row

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["why"]


@click.command(
    epilog=examples(
        "dueward why PN1018 annual-service",
        "dueward why PN1018 annual-service --on 2026-12-01 --known-at 2026-11-02T08:00:00Z",
    )
)
@opens_program
@click.argument("property_number")
@click.argument("task")
@asks()
@formatted
def why(program: Program, property_number: str, task: str, question: Question, form: Form) -> None:
    """How one due date comes about, step by step.

    JSON is one object: the row of `due`, the values between, the steps as sentences, and the
    cautions of the task.
    """
    with program.store.begin() as record:
        answer = explain_row(record, program.public_holidays, property_number, task, question)
    told = {"steps": answer.steps, "cautions": answer.cautions}
    show_object({**answer.row._asdict(), **answer.facts, **told}, form, lambda: _text(answer))


def _text(answer: Explanation) -> str:
    """The steps, then what the rule warns of."""
    return "\n\n".join(filter(None, [numbered(answer.steps), cautions_text(answer.cautions)]))


def numbered(steps: list[str]) -> str:
    """Sentences as a numbered list that fits the terminal."""
    hang = len(str(len(steps))) + 2
    return "\n".join(
        textwrap.fill(
            one_line(step),
            terminal_width(),
            initial_indent=f"{number}. ".rjust(hang),
            subsequent_indent=" " * hang,
            break_on_hyphens=False,
        )
        for number, step in enumerate(steps, start=1)
    )
