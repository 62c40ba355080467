"""`dueward strike`: correct an entry; the old one stays readable."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from fleet.cli.entries import explained, show_entry
from fleet.cli.options import examples, formatted, opens_program
from fleet.cli.output import Form
from fleet.domain.records import Mark
from fleet.services.entry_effects import effects
from fleet.services.mark import strike as write_strike

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["strike"]


@click.command(
    epilog=examples(
        'dueward strike PN1000/optics/2026-11-24/1 --why "wrong unit"',
        'dueward strike PN1000/optics/2026-11-24/1 --why "not used" --replace-with unused'
        " --initials GR",
        "dueward strike PN1002/temperature/2026-11-24/1 --why misread --replace-with done"
        " --reading 4.1",
    )
)
@opens_program
@click.argument("struck", metavar="KEY")
@click.option("--why", required=True, help="The reason, for whoever reads the record later.")
@click.option(
    "--replace-with",
    type=click.Choice(Mark, case_sensitive=False),
    help="The mark that should stand instead.",
)
@click.option(
    "--initials",
    default="",
    help="Who corrects; those of the old entry are not taken over, and `gaps` finds a mark without"
    " them.",
)
@click.option("--reading", default="", help="The right number; default: kept with the same mark.")
@click.option("--key", default="", help="A name of your own for the correction.")
@formatted
def strike(
    program: Program,
    struck: str,
    why: str,
    replace_with: Mark | None,
    initials: str,
    reading: str,
    key: str,
    form: Form,
) -> None:
    """Correct an entry; the old one stays readable.

    A correction can be corrected in its turn, by its own key; what it struck stays struck. A
    corrective action that the old entry opened stays open until it is reviewed.

    KEY is what `mark` answered with; an entry of a file has the key it was given there, or else
    property-number/task/date/number.
    """
    with program.store.begin(write=True) as record:
        before = record.register()
        stored = write_strike(
            record,
            program.public_holidays,
            struck,
            why,
            replace_with,
            stamp=program.stamp("command"),
            new_key=key,
            initials=initials,
            reading=reading,
        )
        followed = effects(record, stored.entry, before)
        next_up = explained(program, record, stored)
        record.commit()
    now = f"replaced by {replace_with}" if replace_with else "struck"
    told = f"Entry {struck} is {now} (key {stored.entry.key})."
    show_entry(stored, next_up, form, told, effects=followed)
