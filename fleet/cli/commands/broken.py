"""`dueward broken`: say that a unit cannot be used."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from fleet.cli.life_answers import show_act
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form
from fleet.services.life.outages import broken as begin

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["broken"]


@click.command(epilog=examples('dueward broken PN1000 --why "the lamp does not light"'))
@opens_program
@click.argument("property_number")
@day_option("on", "The day it broke; default: today where it stands")
@click.option("--why", required=True, help="What is wrong with it.")
@click.option("--anyway", is_flag=True, help="Write it though it looks like a slip.")
@formatted
def broken(
    program: Program,
    property_number: str,
    on: dt.date | None,
    why: str,
    anyway: bool,
    form: Form,
) -> None:
    """Say that a unit cannot be used.

    It is out of service from that day, or from the next where it was worked with that day. Do not
    use it, and tag it. JSON is one object.
    """
    with program.store.begin(write=True) as record:
        act = begin(
            record,
            program.public_holidays,
            property_number,
            on,
            why,
            anyway=anyway,
            stamp=program.stamp("command"),
        )
        record.commit()
    show_act(act, form)
