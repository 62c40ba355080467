"""`dueward export`: write everything as files that load again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleet.cli.flaw_notes import note_flaws
from fleet.cli.grids import grid, printed
from fleet.cli.options import examples, formatted, opens_program
from fleet.cli.output import Form, Value, show_object
from fleet.cli.progress import rows_told
from fleet.cli.refusals import ended
from fleet.services.export import export as export_record

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["export"]


@click.command(
    epilog=examples(
        "dueward export my-export",
        "dueward --database sqlite:///dueward.db export for-the-archive --check",
    )
)
@opens_program
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--check", is_flag=True, help="Exit 3 if a chain is not as it was written.")
@formatted
def export(program: Program, folder: Path, check: bool, form: Form) -> int:
    """Write everything as files that load again.

    FOLDER is new, or there and empty. It gets the present state as CSV files and rules.toml,
    every line of the record as it was hashed (lines.tsv), the attached files, and SHA256SUMS over
    all of them. `dueward load FOLDER` into an empty database, of either kind, gives the same
    answers and the same hashes. Cells are written as they are: open a CSV file in a spreadsheet
    program as text only, for it may take a cell that begins with = for a formula.
    """
    from fleet.files.export_files import ExportFolder, new_folder

    began = program.stopwatch()
    with (
        program.store.begin() as record,
        new_folder(folder) as made,
        rows_told("Writing rows", program.stopwatch) as progress,
    ):
        report = export_record(record, ExportFolder(made), progress)
        sizes = [path.stat().st_size for path in made.rglob("*") if path.is_file()]
    fields: dict[str, Value] = {
        "folder": str(folder),
        "files": len(sizes),
        "bytes": sum(sizes),
        "lines": report.lines,
        "root": report.root,
        "flaws": len(report.flaws),
        "seconds": round(program.stopwatch() - began, 3),
    }
    show_object(fields, form, lambda: printed(grid([[*field] for field in fields.items()])))
    note_flaws(report.flaws, "what is not as it was written will not load again from lines.tsv")
    return ended(found=check and bool(report.flaws))
