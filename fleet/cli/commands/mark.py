"""`dueward mark`: write that a task was done, or why not."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from fleet.cli.entries import explained, show_entry
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form
from fleet.domain.records import Entry, Mark, StoredEntry
from fleet.services.mark import mark as write_mark
from notifications.digests.words import day

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["mark"]


@click.command(
    epilog=examples(
        "dueward mark PN1000 optics --on 2026-11-25 --as done --initials GR",
        "dueward mark PN1000 optics --on 2026-11-25 --as unused",
    )
)
@opens_program
@click.argument("property_number")
@click.argument("task")
@day_option("on", "The day it was done, at the site", required=True)
@click.option(
    "--as",
    "as_mark",
    type=click.Choice(Mark, case_sensitive=False),
    required=True,
    help="done; unused: not in use that day; filled: a scan shows ink; explained: say why with"
    " --note.",
)
@click.option("--initials", default="", help="Who did it.")
@click.option("--reading", default="", help="A number that was read, as 4.5.")
@click.option("--note", default="", help="Anything to remember.")
@click.option("--key", default="", help="A name of your own: the same one twice is one entry.")
@click.option("--anyway", is_flag=True, help="Write it though it looks like a slip.")
@formatted
def mark(
    program: Program,
    property_number: str,
    task: str,
    on: dt.date,
    as_mark: Mark,
    anyway: bool,
    form: Form,
    **words: str,
) -> None:
    """Write that a task was done, or why not.

    Follow the manufacturer's manual, the site's safety officer and local rules; `why` shows before
    the work what the rule book warns of. Answers with the entry, in a table with the cautions of
    the task, and what is due next.
    """
    entry = Entry(property_number=property_number, task=task, on=on, mark=as_mark, **words)  # type: ignore[arg-type]
    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        stored, is_new = write_mark(
            record, program.public_holidays, entry, anyway=anyway, stamp=stamp
        )
        next_up = explained(program, record, stored)
        record.commit()
    show_entry(stored, next_up, form, said(stored, is_new), warns=True)


def said(stored: StoredEntry, is_new: bool) -> str:
    """What stands on the record now, in a sentence."""
    entry = stored.entry
    by = f" by {entry.initials}" if entry.initials else ""
    stands = "is" if is_new else "was already"
    what = f"{entry.property_number} {entry.task} {stands} marked {entry.mark}"
    return f"{what} on {day(entry.on)}{by} (key {entry.key})."
