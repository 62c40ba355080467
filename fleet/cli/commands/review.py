"""`dueward review`: sign a month of a site's charts, or note when they came back."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form, one_line, show_object
from fleet.services.months import first_day
from fleet.services.reviews import SIGNED, TO_REVIEW, ReviewRow
from fleet.services.reviews import review as write_review
from notifications.digests.words import counted, day, month

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["review"]


@click.command(
    epilog=examples(
        "dueward review adams 2026-10 --returned 2026-11-04",
        'dueward review adams 2026-10 --by "Noor Northgate" --on 2026-11-06',
    )
)
@opens_program
@click.argument("site")
@click.argument("month")
@click.option("--by", default="", help="Who reviewed the month: this signs it.")
@day_option("on", "The day it was reviewed; default: today at the site")
@day_option("returned", "The day the month's charts came back")
@click.option("--note", default="", help="Anything to remember.")
@click.option("--anyway", is_flag=True, help="Sign it though gaps or corrective actions are open.")
@formatted
def review(
    program: Program,
    site: str,
    month: str,
    by: str,
    on: dt.date | None,
    returned_on: dt.date | None,
    note: str,
    anyway: bool,
    form: Form,
) -> None:
    """Sign a month of a site's charts, or note when they came back.

    SITE is the site's short name, MONTH as 2026-10. What is stored later about a day of a signed
    month reopens it; it is then reviewed and signed anew.
    """
    with program.store.begin(write=True) as record:
        row = write_review(
            record,
            program.public_holidays,
            site,
            month,
            by=by,
            on=on,
            returned_on=returned_on,
            note=note,
            anyway=anyway,
            stamp=program.stamp("command"),
        )
        record.commit()
    show_object(asdict(row), form, lambda: one_line(said(row)))


def said(row: ReviewRow) -> str:
    """How the month stands now, in a sentence or two."""
    name = f"{month(first_day(row.month))} of {row.site}"
    back = f", its charts came back on {day(row.returned_on)}" if row.returned_on else ""
    if row.state == TO_REVIEW or row.reviewed_on is None:
        return f"{name} is to be reviewed{back}. {counted(row.gaps or 0, 'gap')} open."
    signed = f"signed by {row.reviewed_by} on {day(row.reviewed_on)}"
    if row.state != SIGNED:
        return f"{name} was {signed} and has changed since{back}; review and sign it anew."
    left = f" {counted(row.gaps, 'gap stays', 'gaps stay')} open." if row.gaps else ""
    return f"{name} is {signed}{back}.{left}"
