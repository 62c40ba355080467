"""`dueward due`: what is due and overdue, a row a unit × task."""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.grids import counts_grid, printed
from fleet.cli.options import asks, examples, formatted, opens_program
from fleet.cli.output import Form, show_rows
from fleet.cli.picture import due_picture
from fleet.cli.refusals import ended
from fleet.domain.answers import StatusRow
from fleet.services.due import Group, due_rows, roll_up
from fleet.services.narrow import check_names
from fleet.services.questions import Question
from schedules.units import STATES

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["due"]

COLUMNS: Final = list(StatusRow._fields)
COUNTS: Final = [
    "group",
    "units",
    "rows",
    *(state.replace(" ", "_") for state in STATES),
    "longest_days_past_due",
]


@click.command(
    epilog=examples(
        "dueward due --on 2026-12-01 --region Panhandle",
        "dueward due --status overdue --format csv > overdue.csv",
        "dueward due --by county",
    )
)
@opens_program
@asks("site", "county", "region", "kind", "task", "status")
@click.option(
    "--by",
    type=click.Choice(["site", "county", "region", "kind"]),
    help="Count rows by these instead of listing them.",
)
@click.option("--all", "everything", is_flag=True, help="In the table, show what is not due too.")
@click.option("--check", is_flag=True, help="Exit 3 if a row is overdue.")
@formatted
def due(
    program: Program,
    question: Question,
    by: Group | None,
    everything: bool,
    check: bool,
    form: Form,
) -> int:
    """What is due and overdue, a row a unit and task.

    The table tells what is owed, the county that owes service longest first; JSON and CSV have
    every row.
    """
    with program.store.begin() as record:
        check_names(record, question.narrow)
        answer = due_rows(record, program.public_holidays, question)
    if by:
        show_counts(roll_up(answer.rows, by), by, form)
    else:
        rows = map(attrgetter(*COLUMNS), answer.rows)
        picture = lambda: due_picture(answer.rows, question.on, everything=everything)  # noqa: E731
        show_rows(COLUMNS, rows, form, picture)
    overdue = any(row.state == "overdue" for row in answer.rows)
    return ended(answer.failures, found=check and overdue)


def show_counts(groups: list[dict[str, str | int | None]], by: Group, form: Form) -> None:
    """Print the rows of a roll-up."""
    rows = [[group[name] for name in COUNTS] for group in groups]
    show_rows(COUNTS, rows, form, lambda: printed(counts_grid(groups, by)))
