"""`dueward gaps`: what the record lacks, and what settles it."""

from __future__ import annotations

import datetime as dt
from dataclasses import fields
from operator import attrgetter
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.findings_table import findings_table
from fleet.cli.options import asks, day_option, examples, formatted, opens_program
from fleet.cli.output import Form, show_rows
from fleet.cli.refusals import ended
from fleet.domain.answers import FindingRow
from fleet.errors import BadInput, Fault
from fleet.services.findings import FINDINGS, finding_rows
from fleet.services.narrow import check_names
from fleet.services.questions import Question

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["gaps"]

COLUMNS: Final = [field.name for field in fields(FindingRow)]


@click.command(
    epilog=examples(
        "dueward gaps --from 2026-10-01 --to 2026-10-31 --finding gap",
        "dueward gaps --from 2026-10-01 --to 2026-10-31 --site adams --check",
    )
)
@opens_program
@day_option("from", "The first day", required=True)
@day_option("to", "The last day, included", required=True)
@asks("site", "county", "region", "kind", "task")
@click.option("--finding", metavar="NAME", help=f"Only this finding: {', '.join(FINDINGS)}.")
@click.option("--check", is_flag=True, help="Exit 3 if there is a finding.")
@formatted
def gaps(
    program: Program,
    from_on: dt.date,
    to_on: dt.date,
    question: Question,
    finding: str | None,
    check: bool,
    form: Form,
) -> int:
    """What the record lacks, and what settles it.

    A gap counts by the day its period closed, every other finding by the day it speaks of.
    """
    check_order(from_on, to_on)
    with program.store.begin() as record:
        check_names(record, question.narrow)
        found = finding_rows(record, program.public_holidays, from_on, to_on, question, finding)
    rows = map(attrgetter(*COLUMNS), found)
    show_rows(COLUMNS, rows, form, lambda: findings_table(found, from_on, to_on))
    return ended(found=check and bool(found))


def check_order(from_on: dt.date, to_on: dt.date) -> None:
    """Refuse a span that ends before it begins."""
    if to_on < from_on:
        problem = f"{to_on} lies before --from {from_on}"
        raise BadInput([Fault("--to", None, None, problem, "give the later day as --to")])
