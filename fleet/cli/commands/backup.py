"""`dueward backup`: copy the database while it is in use, and check the copy."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleet.cli.flaw_notes import note_flaws
from fleet.cli.grids import grid, printed
from fleet.cli.options import examples, formatted, opens_program
from fleet.cli.output import Form, Value, note, show_object
from fleet.cli.progress import rows_told
from fleet.cli.refusals import ended

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["backup"]


@click.command(
    epilog=examples(
        "dueward backup fleet-2026-11-25.backup",
        "dueward backup nightly.backup --replace --check",
        "dueward --database postgresql://owner@db/fleet backup fleet.dump",
    )
)
@opens_program
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Replace FILE if it is there.")
@click.option("--check", is_flag=True, help="Exit 3 if a chain is not as it was written.")
@formatted
def backup(program: Program, file: Path, replace: bool, check: bool, form: Form) -> int:
    """Copy the database while it is in use, and check the copy.

    Others may go on writing; the copy is of one moment. FILE takes its place only when the copy
    has been checked, and its SHA-256, its root and the number of lines are told. Of a PostgreSQL
    database it is written by pg_dump. Keep it on another machine, and try `dueward restore` on it.
    """
    from fleet.storage.backups import back_up

    began = program.stopwatch()
    with rows_told("Checking lines", program.stopwatch) as progress:
        made = back_up(program.settings.database, file, over=replace, progress=progress)
    found = made.checked
    flaws = () if found is None else found.flaws
    fields: dict[str, Value] = {
        "file": str(made.file),
        "bytes": made.bytes,
        "sha256": made.sha256,
        "root": None if found is None else found.root,
        "lines": None if found is None else found.lines,
        "flaws": None if found is None else len(flaws),
        "seconds": round(program.stopwatch() - began, 3),
    }
    show_object(fields, form, lambda: printed(grid([[*field] for field in fields.items()])))
    if found is None:
        note("its chains were not checked: it is of an earlier version; run dueward upgrade")
    note_flaws(flaws, "the copy was kept: the database itself is not as it was written")
    return ended(found=check and bool(flaws))
