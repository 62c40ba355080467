"""`dueward move`: move a unit to another site, or lend it until a day."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from fleet.cli.life_answers import show_act
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form
from fleet.services.life.moves import move as move_unit

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["move"]


@click.command(
    epilog=examples(
        "dueward move PN1000 hall --on 2026-12-01",
        "dueward move PN1000 hall --on 2026-12-01 --until 2026-12-15",
    )
)
@opens_program
@click.argument("property_number")
@click.argument("site")
@day_option("on", "The first day it stands there", required=True)
@day_option("until", "It is lent: the day it is back where it stood")
@click.option("--anyway", is_flag=True, help="Write it though it looks like a slip.")
@formatted
def move(
    program: Program,
    property_number: str,
    site: str,
    on: dt.date,
    until_on: dt.date | None,
    anyway: bool,
    form: Form,
) -> None:
    """Move a unit to another site, or lend it until a day.

    Answers with the checks due before it is used there, and with the months under review that the
    move changes. JSON is one object.
    """
    with program.store.begin(write=True) as record:
        act = move_unit(
            record,
            program.public_holidays,
            property_number,
            site,
            on,
            until_on,
            anyway=anyway,
            stamp=program.stamp("command"),
        )
        record.commit()
    show_act(act, form)
