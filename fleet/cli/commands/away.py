"""`dueward away`: who is away, and who reads their mail meanwhile."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.grids import grid, printed
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form, Value, show_rows
from fleet.domain.mail_times import Absence
from fleet.errors import BadInput, Fault
from fleet.services.absences import absences, be_away, be_back
from notifications.digests.words import day

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["away"]

COLUMNS: Final = ("email", "from", "to", "deputy")


@click.command(
    epilog=examples(
        "dueward away",
        "dueward away lead@adams.example --from 2026-12-07 --to 2026-12-18"
        " --deputy bench@adams.example",
        "dueward away lead@adams.example --back 2026-12-14",
    )
)
@opens_program
@click.argument("email", required=False, default="")
@day_option("from", "The first day away")
@day_option("to", "The last day away")
@click.option(
    "--deputy",
    metavar="ADDRESS",
    default="",
    help="Who gets the mail meanwhile; else the deputy of the people file.",
)
@day_option("back", "End the absence: the day the person is back")
@formatted
def away(
    program: Program,
    email: str,
    from_on: dt.date | None,
    to_on: dt.date | None,
    deputy: str,
    back_on: dt.date | None,
    form: Form,
) -> None:
    """Who is away, and who reads their mail meanwhile.

    Without an address it lists who is away today or later. A deputy gets one mail for both; where
    there is none the mail goes to the one who is away, and the consultant is told.
    """
    stamp = program.stamp("command")
    if back_on is not None and (from_on or to_on or deputy):
        mend = "give --back alone to end an absence"
        raise BadInput([Fault("dueward away", None, None, "--back says when it ends", mend)])
    if not email and (back_on or from_on or to_on or deputy):
        mend = "say who: dueward away ADDRESS --from DATE --to DATE"
        raise BadInput([Fault("EMAIL", None, None, "nobody is named", mend)])
    if not email:
        with program.store.begin() as record:
            found = absences(record, program.today())
    elif back_on is not None:
        with program.store.begin(write=True) as record:
            found = [be_back(record, program.public_holidays, email, back_on, stamp)]
            record.commit()
    elif from_on is None or to_on is None:
        mend = "give both --from and --to, or --back"
        problem = "it is not said when"
        raise BadInput([Fault("dueward away", None, None, problem, mend)])
    else:
        with program.store.begin(write=True) as record:
            holidays = program.public_holidays
            found = [be_away(record, holidays, email, from_on, to_on, deputy, stamp)]
            record.commit()
    show_rows(COLUMNS, map(_row, found), form, lambda: _table(found))


def _row(one: Absence) -> list[Value]:
    return [one.email, one.from_on.isoformat(), one.to_on.isoformat(), one.deputy or None]


def _table(found: Sequence[Absence]) -> str:
    if not found:
        return "Nobody is away."
    lines = [
        [
            one.email,
            f"{day(one.from_on)} to {day(one.to_on)}",
            f"deputy {one.deputy}" if one.deputy else "",
        ]
        for one in found
    ]
    return printed(grid(lines))
