"""`dueward dispose`: remove what has outlived its retention, leaving tombstones."""

from __future__ import annotations

import datetime as dt
from dataclasses import astuple, fields
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.grids import grid, printed
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form, note, show_rows
from fleet.errors import BadInput, Fault
from fleet.services.disposal import DisposalRow, plan_disposal
from fleet.services.disposal import dispose as remove
from notifications.digests.words import day

if TYPE_CHECKING:
    from fleet.services.ports import Record
    from fleet.wiring import Program

__all__ = ["dispose"]

COLUMNS: Final = [field.name for field in fields(DisposalRow)]
_KEPT: Final = {
    "kept_in_retention": "within its retention",
    "kept_recorded_later": "recorded within its retention",
    "kept_with_correction": "tied to one that stays",
    "kept_open_action": "in an open action",
    "kept_certificates": "certificates",
}


@click.command(
    epilog=examples(
        'dueward dispose --before 2024-01-01 --why "yearly disposal"',
        'dueward dispose --before 2024-01-01 --why "yearly disposal" --backup before-disposal.db'
        " --yes",
    )
)
@opens_program
@day_option("before", "Only what is dated before this day", required=True)
@click.option("--why", required=True, help="The reason, kept with every line that goes.")
@click.option("--kind", "kinds", metavar="NAME", multiple=True, help="Only this kind. Repeatable.")
@click.option(
    "--backup",
    type=click.Path(path_type=Path),
    help="SQLite: the backup made just before, which is compared with the record.",
)
@click.option("--dry-run", is_flag=True, help="Only report, also with --yes.")
@click.option("--yes", is_flag=True, help="Remove it; without it, only the report.")
@formatted
def dispose(
    program: Program,
    before_on: dt.date,
    why: str,
    kinds: tuple[str, ...],
    backup: Path | None,
    dry_run: bool,
    yes: bool,
    form: Form,
) -> None:
    """Remove what has outlived its retention, leaving tombstones.

    What goes: initials, notes, readings, reasons and authors of entries, and the certificates of
    services, once the retention of their kind in the rule book is over (two years at least). What
    stays: days and marks, so that no answer changes, and what a report says in words. Nothing of a
    unit in an open corrective action goes. On SQLite it asks for a backup made just before. It
    cannot be undone: ask who answers for the record, and keep longer what a local rule or a
    pending case asks for.
    """
    is_meant = yes and not dry_run
    with program.store.begin(write=is_meant) as record:
        planned = plan_disposal(record, before_on, program.clock(), kinds)
        if is_meant:
            if planned.keys or planned.files:
                _check_backup(program, record, backup)
            remove(record, planned, why, program.stamp("command"))
            record.commit()
    rows = planned.rows
    show_rows(COLUMNS, map(astuple, rows), form, lambda: _table(rows))
    note(_said(rows, is_meant))


def _check_backup(program: Program, record: Record, backup: Path | None) -> None:
    """On SQLite, refuse to go on without a copy that ends where the record does now."""
    from fleet.storage.disposal import heads_in
    from fleet.storage.engines import file_of, parse_url

    own = file_of(parse_url(program.settings.database))
    if own is None:
        return
    mend = "run dueward backup FILE, then give --backup FILE"
    if backup is None:
        problem = "what is removed cannot be brought back without a backup"
    elif backup.exists() and backup.samefile(own):
        problem = "it is the database itself"
    elif heads_in(backup) != record.heads():
        problem = f"{backup} is not a backup of the record as it is now"
    else:
        return
    raise BadInput([Fault("--backup", None, None, problem, mend)])


def _said(rows: list[DisposalRow], is_removed: bool) -> str:
    entries = sum(row.entries for row in rows)
    files = sum(row.certificates for row in rows)
    if not entries and not files:
        return "nothing has outlived its retention before that day; nothing was removed"
    what = f"{entries:,} entries and {files:,} certificates"
    if not is_removed:
        return f"{what} may go; nothing was removed: add --yes (on SQLite also --backup FILE)"
    return (
        f"removed the words of {what}; backups, exports and packets made before still hold them,"
        " and what a service report says stays in its change line"
    )


def _table(rows: list[DisposalRow]) -> str:
    headings = ("kind", "kept", "entries go", "files go", "until", "what stays, and why")
    return printed(grid([_cells(row) for row in rows], headings)) if rows else "No entries.\n"


def _cells(row: DisposalRow) -> tuple[str | int, ...]:
    kept = [f"{getattr(row, n):,} {words}" for n, words in _KEPT.items() if getattr(row, n)]
    until = max(filter(None, (row.entries_until, row.certificates_until)), default=None)
    return (
        row.kind,
        row.retention or "ever: not in the rule book",
        row.entries,
        row.certificates,
        day(until) if until else "",
        "; ".join(kept),
    )
