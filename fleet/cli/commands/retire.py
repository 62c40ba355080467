"""`dueward retire`: take a unit out of service for good."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from fleet.cli.life_answers import show_act
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form
from fleet.services.life.ends import retire as retire_unit

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["retire"]


@click.command(epilog=examples("dueward retire PN1000 --on 2026-12-31"))
@opens_program
@click.argument("property_number")
@day_option("on", "The first day it is no more in service", required=True)
@click.option("--anyway", is_flag=True, help="Write it though it looks like a slip.")
@formatted
def retire(program: Program, property_number: str, on: dt.date, anyway: bool, form: Form) -> None:
    """Take a unit out of service for good.

    Answers with how long its records are to be kept. JSON is one object.
    """
    with program.store.begin(write=True) as record:
        act = retire_unit(
            record,
            program.public_holidays,
            property_number,
            on,
            anyway=anyway,
            stamp=program.stamp("command"),
        )
        record.commit()
    show_act(act, form)
