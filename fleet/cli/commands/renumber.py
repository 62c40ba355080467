"""`dueward renumber`: give a unit a new property number; the old one stays findable."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from fleet.cli.life_answers import show_act
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form
from fleet.services.life.numbers import renumber as give_number

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["renumber"]


@click.command(epilog=examples("dueward renumber PN1000 PN3000"))
@opens_program
@click.argument("old")
@click.argument("new")
@day_option("on", "From which day it bears the new number; default: today where it stands")
@formatted
def renumber(program: Program, old: str, new: str, on: dt.date | None, form: Form) -> None:
    """Give a unit a new property number; the old one stays findable.

    OLD is any number it bears or bore. It is shown as NEW everywhere from now on, also in answers
    about the past. JSON is one object.
    """
    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        act = give_number(record, program.public_holidays, old, new, on, stamp=stamp)
        record.commit()
    show_act(act, form)
