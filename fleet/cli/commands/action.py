"""`dueward action`: open, carry on, review or close a corrective action."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from fleet.cli.actions_table import action_lines
from fleet.cli.grids import heading, printed
from fleet.cli.options import as_day, day_option, examples, formatted, opens_program
from fleet.cli.output import Form, show_object
from fleet.domain.evidence import Action, Effect
from fleet.services import actions
from fleet.services.action_rows import action_row
from fleet.services.ports import Record
from fleet.services.standing import day_at

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["action"]


@click.group(
    epilog=examples(
        'dueward action open PN1043 --task rotor-check --problem "crack in the rotor"',
        "dueward action carry-on PN1043/2026-11-23/1 --action 'new rotor' --by GR"
        " --review-on 2026-12-07",
        "dueward action review PN1043/2026-11-23/1 --effective yes --by 'N. Ames'",
    )
)
def action() -> None:
    """Open, carry on or close a corrective action.

    A reading out of range and a failed check open one by themselves. It is closed only once it says
    what was done and by whom, and a review found that it worked. `actions` lists them. First comes
    what the cautions of the task say, the manufacturer's manual, the site's safety officer and
    local rules.
    """


@action.command(
    "open",
    epilog=examples(
        'dueward action open PN1043 --task rotor-check --problem "hairline crack in the rotor"',
        'dueward action open adams --problem "eyewash blocked by boxes" --on 2026-11-23',
    ),
)
@opens_program
@click.argument("about", metavar="PROPERTY_NUMBER_OR_SITE")
@click.option("--problem", required=True, help="What is wrong.")
@click.option("--task", default="", help="The task that showed it, by its short name.")
@day_option("on", "The day it was seen; default: today there")
@formatted
def open_(
    program: Program, about: str, problem: str, task: str, on: dt.date | None, form: Form
) -> None:
    """Open an action about a unit or a site."""
    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        new = actions.open_action(record, about, problem, task=task, on=on, stamp=stamp)
        _commit_and_show(program, record, new, form, "is open")


@action.command(
    "carry-on",
    epilog=examples(
        "dueward action carry-on PN1043/2026-11-23/1 --action 'new rotor'"
        " --by GR --review-on 2026-12-07"
    ),
)
@opens_program
@click.argument("number")
@click.option("--action", "what", required=True, help="What is done about it.")
@click.option("--by", "responsible", required=True, metavar="NAME", help="Who does it.")
@click.option(
    "--review-on",
    metavar="DATE",
    callback=as_day,
    required=True,
    help="When it is to be reviewed whether it worked (YYYY-MM-DD).",
)
@formatted
def carry_on(
    program: Program,
    number: str,
    what: str,
    responsible: str,
    review_on: dt.date,
    form: Form,
) -> None:
    """Say what is done about it, by whom, and when it is reviewed."""
    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        new = actions.carry_on(record, number, what, responsible, review_on, stamp=stamp)
        _commit_and_show(program, record, new, form, "is carried on")


@action.command(
    epilog=examples(
        "dueward action review PN1043/2026-11-23/1 --effective yes --by 'Noor Ames'",
        "dueward action review PN1043/2026-11-23/1 --effective no --by 'Noor Ames'",
    )
)
@opens_program
@click.argument("number")
@click.option(
    "--effective",
    type=click.Choice(Effect, case_sensitive=False),
    required=True,
    help="yes: it worked, and is closed with that; no: it stays open and asks for another action.",
)
@click.option("--by", "reviewed_by", required=True, metavar="NAME", help="Who reviewed it.")
@day_option("on", "The day of the review; default: today at the site")
@formatted
def review(
    program: Program,
    number: str,
    effective: Effect,
    reviewed_by: str,
    on: dt.date | None,
    form: Form,
) -> None:
    """Say whether it worked; one that did is closed."""
    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        new = actions.review(record, number, effective, reviewed_by, on=on, stamp=stamp)
        is_closed = effective is Effect.YES
        said = "worked and is closed" if is_closed else "did not work and stays open"
        _commit_and_show(program, record, new, form, said)


@action.command(epilog=examples("dueward action close PN1043/2026-11-23/1 --on 2026-12-07"))
@opens_program
@click.argument("number")
@day_option("on", "The day it was closed; default: today at the site")
@formatted
def close(program: Program, number: str, on: dt.date | None, form: Form) -> None:
    """Close one whose review found that it worked.

    `review` does that itself; one that came by a file may still be open.
    """
    with program.store.begin(write=True) as record:
        new = actions.close(record, number, on=on, stamp=program.stamp("command"))
        _commit_and_show(program, record, new, form, "is closed")


def _commit_and_show(program: Program, record: Record, new: Action, form: Form, said: str) -> None:
    """Keep the change, and answer with the action as it stands today at its site."""
    register = record.register()
    row = action_row(register, new, day_at(register.sites[(new.site,)], program.clock()))
    record.commit()
    title = heading(f"Corrective action {row.number} {said}.")
    show_object(asdict(row), form, lambda: printed(title, *action_lines(row)))
