"""`dueward read`: which cells of filled charts are empty, from their scans, faxes and photos."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleet.cli.options import examples, formatted, opens_program
from fleet.cli.output import Form, note, show_rows
from fleet.cli.progress import rows_told
from fleet.cli.refusals import ended
from fleet.domain.scans import Verdict

if TYPE_CHECKING:
    from fleet.desk.scans import ReadPage
    from fleet.wiring import Program

__all__ = ["read"]

_PATH = click.Path(path_type=Path)


@click.command(
    epilog=examples(
        "dueward read scans/adams-march.pdf",
        "dueward read scans faxes.mbox --format json > read.json",
        "dueward read scans --verdict blank --format csv --check",
        "dueward read scans --against looked-at.csv",
    )
)
@opens_program
@click.argument(
    "paths", nargs=-1, required=True, metavar="PATH...", type=click.Path(path_type=Path)
)
@click.option(
    "--verdict",
    type=click.Choice([one.value for one in Verdict]),
    help="In JSON and CSV only cells with this verdict.",
)
@click.option(
    "--against",
    metavar="FILE",
    type=_PATH,
    help="A CSV of this command whose verdicts a person put right: tell how often it was right.",
)
@click.option(
    "--check", is_flag=True, help="Exit 3 for an empty cell, one in doubt, or a page not read."
)
@formatted
def read(
    program: Program,
    paths: tuple[Path, ...],
    verdict: str | None,
    against: Path | None,
    check: bool,
    form: Form,
) -> int:
    """Read scans of filled charts: which cells are empty, marked, or in doubt.

    PDF, TIFF, PNG, JPEG, folders of them, and mails with them attached (mbox, eml), with any number
    of charts in each. A page is read by the print that its codes name; one that cannot be trusted
    is told with the reason, and never stops the others. Nothing enters the record: on the pages
    under /scans a person accepts what was read. How well it reads was measured on simulated scans
    alone, until real ones are at hand: --against measures it on yours. Save the answer as CSV, look
    at the paper, put the verdicts right, and read the same scans against that file.
    """
    from fleet.cli.read_answer import COLUMNS, answer_rows, answer_table, is_told, notes_on
    from fleet.desk.scans import check_reader, read_files
    from fleet.files.scans import files_at

    check_reader()
    with rows_told("pictures read", program.stopwatch) as told:
        pages = list(read_files(program, files_at(paths), told.step))
    if against:
        return _held(pages, against, form)
    for line in notes_on(pages, program.today()):
        note(line)
    rows = answer_rows(pages, verdict)
    show_rows(COLUMNS, rows, form, lambda: answer_table(pages))
    is_found = any(
        page.read.problem
        or any(cell.verdict is not Verdict.MARKED and is_told(cell) for cell in page.cells)
        for page in pages
    )
    return ended(found=check and is_found)


def _held(pages: Sequence[ReadPage], against: Path, form: Form) -> int:
    from fleet.cli.read_answer import ACCURACY_COLUMNS, accuracy_rows, accuracy_table, verdicts_of
    from fleet.files.scan_answers import scan_answers
    from fleet.services.scans.accuracy import accuracy

    found = accuracy(verdicts_of(pages), scan_answers(against))
    rows = accuracy_rows(found)
    show_rows(ACCURACY_COLUMNS, rows, form, lambda: accuracy_table(found))
    return 0
