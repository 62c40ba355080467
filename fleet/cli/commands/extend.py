"""`dueward extend`: put a due date off, with a reason and an end."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from fleet.cli.life_answers import show_act
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form
from fleet.domain.evidence import Extension
from fleet.services.life.extend import extend as put_off

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["extend"]


@click.command(
    epilog=examples(
        'dueward extend PN1018 annual-service --until 2026-12-18 --why "snow" --by "R. Moss"'
    )
)
@opens_program
@click.argument("property_number")
@click.argument("task")
@day_option("until", "The last day it is due and not overdue", required=True)
@click.option("--why", required=True, help="The reason.")
@click.option("--by", required=True, help="Who grants it.")
@day_option("on", "The day it was granted; default: today where the unit stands")
@click.option("--anyway", is_flag=True, help="Write it though it looks like a slip.")
@formatted
def extend(
    program: Program,
    property_number: str,
    task: str,
    until_on: dt.date,
    why: str,
    by: str,
    on: dt.date | None,
    anyway: bool,
    form: Form,
) -> None:
    """Put a due date off, with a reason and an end.

    The due date stays, and so does the manufacturer's interval: it only counts as due, not as
    overdue, until that day. JSON is one object.
    """
    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        wanted = Extension(
            property_number=property_number,
            task=task,
            from_on=on or until_on,
            until_on=until_on,
            reason=why,
            granted_by=by,
        )
        act = put_off(record, program.public_holidays, wanted, on, anyway=anyway, stamp=stamp)
        record.commit()
    show_act(act, form)
