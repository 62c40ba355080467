"""`dueward why`: how one due date comes about, step by step."""

from __future__ import annotations

import textwrap
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from fleet.cli.grids import terminal_width
from fleet.cli.options import asks, examples, formatted, opens_program
from fleet.cli.output import Form, one_line, show_object
from fleet.services.questions import Question
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

    JSON is one object: the row of `due`, the values between, and the steps as sentences.
    """
    with program.store.begin() as record:
        answer = explain_row(record, program.public_holidays, property_number, task, question)
    fields = {**asdict(answer.row), **answer.facts, "steps": answer.steps}
    show_object(fields, form, lambda: numbered(answer.steps))


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
