"""`dueward restore`: put a backup in a fresh place, and check it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleet.cli.flaw_notes import note_flaws
from fleet.cli.grids import grid, printed
from fleet.cli.options import examples, formatted, opens_program
from fleet.cli.output import Form, Value, note, show_object
from fleet.cli.progress import rows_told

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["restore"]


@click.command(
    epilog=examples(
        "dueward restore nightly.backup --database sqlite:///restored.db",
        "dueward restore fleet.dump --database postgresql://owner@db/new",
    )
)
@opens_program
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--anyway", is_flag=True, help="Also where chains are not as they were written.")
@formatted
def restore(program: Program, file: Path, anyway: bool, form: Form) -> None:
    """Put a backup in a fresh place, and check it.

    The place is named with --database: a SQLite file that is missing or empty, or a PostgreSQL
    database without tables; a fleet that stands is never overwritten. A damaged backup is refused
    and leaves nothing. On PostgreSQL owners and rights are not restored.
    """
    from fleet.storage.backups import restore as put_back

    began = program.stopwatch()
    with rows_told("Checking lines", program.stopwatch) as progress:
        restored = put_back(
            program.settings.database, file, program.rebuild, anyway=anyway, progress=progress
        )
    found = restored.checked
    fields: dict[str, Value] = {
        "database": restored.place,
        "file": str(file),
        "root": None if found is None else found.root,
        "lines": None if found is None else found.lines,
        "flaws": None if found is None else len(found.flaws),
        "seconds": round(program.stopwatch() - began, 3),
    }
    show_object(fields, form, lambda: printed(grid([[*field] for field in fields.items()])))
    if found is None:
        note("it is of an earlier version, restored as it is; now run dueward upgrade")
    note_flaws(() if found is None else found.flaws, "it was restored as it is")
    if program.settings.database.startswith("postgres"):
        note("owners and rights were not restored; for a role without them, run dueward roles")
    if restored.mended:
        note(
            f"what is kept of {restored.mended} units was not as their entries have it,"
            " and was worked out anew"
        )
