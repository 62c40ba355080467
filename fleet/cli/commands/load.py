"""`dueward load`: read files into the register and the record, all or nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleet.cli.grids import grid, printed
from fleet.cli.options import examples, formatted, opens_program
from fleet.cli.output import Form, Value, note, show_rows
from fleet.cli.progress import rows_told
from fleet.services.load import load as load_files
from fleet.services.load_ports import LoadReport

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["load", "load_paths"]

COLUMNS = ("table", "new", "changed", "unchanged")


@click.command(
    epilog=examples(
        "dueward load my-files --dry-run",
        "dueward load my-files",
        "dueward load entries-2026.csv",
    )
)
@opens_program
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Report the same, and write nothing.")
@formatted
def load(program: Program, paths: tuple[Path, ...], dry_run: bool, form: Form) -> None:
    """Read sites, units, people and the record from files, all or nothing.

    PATHS are folders, CSV files, XLSX workbooks and a rules.toml. With a single fault nothing is
    written, and each fault is told with its file, row, column and mend. A missing SQLite database
    is made.
    """
    report = load_paths(program, paths, dry_run=dry_run)
    rows: list[list[Value]] = [
        [table, count.new, count.changed, count.unchanged] for table, count in report.tables.items()
    ]
    show_rows(COLUMNS, rows, form, lambda: printed(grid(rows, COLUMNS)))
    for remark in report.remarks:
        note(remark)
    if dry_run:
        note("nothing was written: this was a dry run")


def load_paths(program: Program, paths: tuple[Path, ...], *, dry_run: bool = False) -> LoadReport:
    """Load files and tell on stderr how far it has come."""
    with (
        program.filled(dry_run=dry_run) as store,
        rows_told("Reading rows", program.stopwatch) as progress,
    ):
        return load_files(
            store,
            program.reader(paths),
            program.public_holidays,
            program.rebuild,
            stamp=program.stamp("file"),
            progress=progress,
            dry_run=dry_run,
        )
