"""`dueward actions`: which corrective actions are open, and what moves each on."""

from __future__ import annotations

from dataclasses import fields
from operator import attrgetter
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.actions_table import actions_table
from fleet.cli.options import asks, examples, formatted, opens_program
from fleet.cli.output import Form, show_rows
from fleet.cli.refusals import ended
from fleet.services.action_rows import CLOSED, ActionRow, action_rows
from fleet.services.narrow import check_names
from fleet.services.questions import Question

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["COLUMNS", "actions"]

COLUMNS: Final = [field.name for field in fields(ActionRow)]


@click.command(
    epilog=examples(
        "dueward actions --region West",
        "dueward actions --all --site adams --on 2026-10-31",
        "dueward actions --check",
    )
)
@opens_program
@asks("site", "county", "region", "kind")
@click.option(
    "--open/--all", "is_open", default=True, help="Only what is open (default), or all there were."
)
@click.option("--check", is_flag=True, help="Exit 3 if an action is open.")
@formatted
def actions(program: Program, question: Question, is_open: bool, check: bool, form: Form) -> int:
    """Which corrective actions are open.

    What is overdue comes first, and each says what moves it on. A reading out of range and a
    failed check open one by themselves; `action` opens others, carries them on, reviews and closes
    them. It stays open until a review finds that it worked.
    """
    with program.store.begin() as record:
        check_names(record, question.narrow)
        found = action_rows(record, question, everything=not is_open)
    rows = map(attrgetter(*COLUMNS), found)
    show_rows(COLUMNS, rows, form, lambda: actions_table(found))
    return ended(found=check and any(row.state != CLOSED for row in found))
