"""`dueward mark`: write that a task was done, or why not."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from fleet.cli.cautions import cautions_text
from fleet.cli.effects import effect_fields, then_lines
from fleet.cli.entries import explained, show_entry
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form, show_object
from fleet.domain.records import Entry, Mark, StoredEntry
from fleet.errors import BadInput, Fault
from fleet.services.effect_words import first_line
from fleet.services.entry_effects import effects
from fleet.services.mark import fail
from fleet.services.mark import mark as write_mark
from notifications.digests.words import day

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["mark"]


@click.command(
    epilog=examples(
        "dueward mark PN1000 optics --on 2026-11-25 --as done --initials GR",
        "dueward mark PN1000 optics --on 2026-11-25 --as unused",
        "dueward mark PN1003 door-check --on 2026-11-25 --as done --failed --note 'it leaks'",
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
@click.option(
    "--failed",
    is_flag=True,
    help="The check failed, and no number was read: say with --note what was found.",
)
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
    failed: bool,
    anyway: bool,
    form: Form,
    **words: str,
) -> None:
    """Write that a task was done, or why not.

    Follow the manufacturer's manual, the site's safety officer and local rules; `why` shows before
    the work what the rule book warns of. Answers with the entry, in a table with the cautions of
    the task, and what is due next. A reading out of range opens a corrective action; so does a
    check that failed, and where the rule book says that it stops use, the unit is out of service
    until the check is passed and marked done.
    """
    entry = Entry(property_number=property_number, task=task, on=on, mark=as_mark, **words)  # type: ignore[arg-type]
    if failed:
        _show_failed(program, entry, form, anyway=anyway)
        return
    with program.store.begin(write=True) as record:
        stamp, before = program.stamp("command"), record.register()
        stored, is_new = write_mark(
            record, program.public_holidays, entry, anyway=anyway, stamp=stamp
        )
        followed = effects(record, stored.entry, before)
        next_up = explained(program, record, stored)
        record.commit()
    told = said(stored, is_new, property_number)
    show_entry(stored, next_up, form, told, warns=True, effects=followed)


def _show_failed(program: Program, entry: Entry, form: Form, *, anyway: bool) -> None:
    """Record a failed check of which no number was read: no entry says that it was done."""
    given = {"--reading": entry.reading, "--key": entry.key}
    for option in [option for option, value in given.items() if value]:
        mend = "leave it out; a reading out of range fails by itself, without --failed"
        raise BadInput([Fault(option, None, None, "with --failed no entry is written", mend)])
    if entry.mark is not Mark.DONE:
        mend = "say --as done with --failed"
        raise BadInput([Fault("--failed", None, None, "only a check that was done fails", mend)])
    with program.store.begin(write=True) as record:
        followed = fail(
            record, program.public_holidays, entry, anyway=anyway, stamp=program.stamp("command")
        )
        record.commit()
    fields = {
        "property_number": entry.property_number,
        "task": entry.task,
        "on": entry.on,
        **effect_fields(followed),
    }
    told = [first_line(followed), cautions_text(followed.cautions), *then_lines(followed)]
    show_object(fields, form, lambda: "\n".join(filter(None, told)))


def said(stored: StoredEntry, is_new: bool, typed: str = "") -> str:
    """What stands on the record now, in a sentence; a former number that was typed is told."""
    entry = stored.entry
    formerly = f" (formerly {typed})" if typed not in ("", entry.property_number) else ""
    by = f" by {entry.initials}" if entry.initials else ""
    stands = "is" if is_new else "was already"
    what = f"{entry.property_number}{formerly} {entry.task} {stands} marked {entry.mark}"
    return f"{what} on {day(entry.on)}{by} (key {entry.key})."
