"""`dueward issue`: put a new unit into service at a site."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from fleet.cli.life_answers import show_act
from fleet.cli.options import as_day, day_option, examples, formatted, opens_program
from fleet.cli.output import Form
from fleet.domain.records import Unit
from fleet.services.life.issue import Serviced
from fleet.services.life.issue import issue as issue_unit

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["issue"]


@click.command(
    epilog=examples(
        "dueward issue PN2001 --kind microscope --site adams --on 2026-12-01"
        " --serviced-on 2026-11-20",
        "dueward issue PN2002 --kind centrifuge --site adams --on 2026-12-01 --model C4",
    )
)
@opens_program
@click.argument("property_number")
@click.option("--kind", required=True, help="What sort of instrument, as in the rule book.")
@click.option("--site", required=True, help="Where it will stand, by the site's short name.")
@day_option("on", "The first day it is in service", required=True)
@click.option("--manufacturer", default="", help="Who made it.")
@click.option("--model", default="", help="Its model.")
@click.option("--serial", default="", help="Its serial number.")
@click.option(
    "--serviced-on",
    metavar="DATE",
    callback=as_day,
    help="When it was serviced centrally before: its first anchor (YYYY-MM-DD).",
)
@click.option("--serviced-task", default="", help="Which service, where there are several.")
@click.option("--initials", default="", help="Who serviced it.")
@click.option(
    "--record-from",
    "record_from_on",
    metavar="DATE",
    callback=as_day,
    help="The first day the record speaks of; default: the day it enters service (YYYY-MM-DD).",
)
@click.option("--anyway", is_flag=True, help="Write it though it looks like a slip.")
@formatted
def issue(
    program: Program,
    on: dt.date,
    serviced_on: dt.date | None,
    serviced_task: str,
    initials: str,
    record_from_on: dt.date | None,
    anyway: bool,
    form: Form,
    **words: str,
) -> None:
    """Put a new unit into service at a site.

    Answers with its rules and when each is due first, and with the chart that is wanted. JSON is
    one object.
    """
    unit = Unit(in_service_on=on, record_from_on=record_from_on, **words)  # type: ignore[arg-type]
    serviced = Serviced(serviced_on, serviced_task, initials) if serviced_on else None
    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        act = issue_unit(
            record, program.public_holidays, unit, serviced, anyway=anyway, stamp=stamp
        )
        record.commit()
    show_act(act, form)
