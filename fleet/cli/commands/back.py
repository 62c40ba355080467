"""`dueward back`: put a unit back into service, with the checks due before use."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from fleet.cli.life_answers import show_act
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form
from fleet.services.life.outages import back as end

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["back"]


@click.command(epilog=examples("dueward back PN1001", "dueward back PN1001 --on 2026-12-02"))
@opens_program
@click.argument("property_number")
@day_option("on", "The first day it is in service again; default: today where it stands")
@click.option("--anyway", is_flag=True, help="Write it though it looks like a slip.")
@formatted
def back(
    program: Program, property_number: str, on: dt.date | None, anyway: bool, form: Form
) -> None:
    """Put a unit back into service, with the checks due before use.

    Refused while a failed function check has not been passed. JSON is one object.
    """
    with program.store.begin(write=True) as record:
        act = end(
            record,
            program.public_holidays,
            property_number,
            on,
            anyway=anyway,
            stamp=program.stamp("command"),
        )
        record.commit()
    show_act(act, form)
