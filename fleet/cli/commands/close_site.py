"""`dueward close-site`: close a site for good."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from fleet.cli.life_answers import show_act
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form
from fleet.services.life.ends import close_site as close

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["close_site"]


@click.command(
    "close-site",
    epilog=examples('dueward close-site hall --on 2026-12-31 --why "joined with the city lab"'),
)
@opens_program
@click.argument("site")
@day_option("on", "The first day it is closed", required=True)
@click.option("--why", required=True, help="The reason.")
@click.option("--anyway", is_flag=True, help="Write it though it looks like a slip.")
@formatted
def close_site(
    program: Program, site: str, on: dt.date, why: str, anyway: bool, form: Form
) -> None:
    """Close a site for good.

    Only once no unit stands there; those that do are named, with the commands to move or retire
    them. The people's roles there end, and their mail. JSON is one object.
    """
    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        act = close(record, program.public_holidays, site, on, why, anyway=anyway, stamp=stamp)
        record.commit()
    show_act(act, form)
