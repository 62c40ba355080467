"""`dueward templates`: how mails are laid out; try own templates before they are used."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.grids import grid, printed
from fleet.cli.options import examples, formatted, opens_program
from fleet.cli.output import Form, note, show_rows
from fleet.cli.refusals import BAD_INPUT
from fleet.errors import BadInput, Fault
from notifications.digests.words import counted
from notifications.overrides import check_folder, shipped_files

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["templates"]

COLUMNS: Final = ("template", "own")
FAULT_COLUMNS: Final = ("file", "line", "problem", "mend")


@click.command(
    epilog=examples(
        "dueward templates",
        "dueward templates --copy our-templates",
        "dueward templates --check our-templates",
    )
)
@opens_program
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option("--check", is_flag=True, help="Try every kind of mail on FOLDER's templates.")
@click.option(
    "--copy",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Write the shipped templates into this folder, to begin with.",
)
@formatted
def templates(
    program: Program, folder: Path | None, check: bool, copy: Path | None, form: Form
) -> int:
    """How mails are laid out; try own templates before they are used.

    FOLDER (default: DUEWARD_TEMPLATES) holds files that stand in the place of the shipped ones of
    the same name; the others stay. Keep only what you change. Without an option it lists which are
    your own. A template cannot run anything, and must say why a mail comes and what can hurt.
    """
    if copy is not None:
        note(f"wrote {counted(_copied(copy), 'file')} to {copy}; keep only those you change")
        return 0
    place = folder or program.settings.mail.templates
    if not check:
        rows = [[name, _is_own(place, name)] for name in shipped_files()]
        show_rows(COLUMNS, rows, form, lambda: _table(rows))
        return 0
    if place is None:
        mend = "name it: dueward templates --check FOLDER"
        raise BadInput([Fault("FOLDER", None, None, "there is no folder of own templates", mend)])
    faults = check_folder(place)
    told = [[one.file, one.line, one.problem, one.mend] for one in faults]
    text = "".join(f"{fault}\n" for fault in faults)
    show_rows(FAULT_COLUMNS, told, form, lambda: text or f"{place} may be used.\n")
    return BAD_INPUT if faults else 0


def _is_own(folder: Path | None, name: str) -> str:
    return "yes" if folder is not None and (folder / name).is_file() else "no"


def _table(rows: list[list[str]]) -> str:
    return printed(grid([[name, "own" if own == "yes" else ""] for name, own in rows]))


def _copied(folder: Path) -> int:
    """Write the shipped templates; BadInput where one is there already."""
    root = files("notifications") / "templates"
    names = shipped_files()
    for name in names:
        if (folder / name).exists():
            mend = "name an empty folder"
            raise BadInput([Fault(str(folder / name), None, None, "it is there already", mend)])
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text((root / name).read_text(encoding="utf-8"), encoding="utf-8", newline="\n")
    return len(names)
