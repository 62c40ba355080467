"""Which files hold which tables? The file's name, up to the first '-', or the sheet's."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from fleet.domain.texts import shown
from fleet.files.cells import nearest
from fleet.files.tables import ENTRIES, TABLES
from fleet.files.xlsx_text import Sheet, read_workbook
from fleet.services.load_ports import Faults

__all__ = ["Source", "Sources", "find_sources"]

_NAMES = (*TABLES, ENTRIES.name)
_NOTE_SHEETS = ("notes", "note", "readme", "about", "legend")
_TABLE_SUFFIXES = (".csv", ".xlsx", ".toml", ".xls", ".xlsm", ".xlsb", ".ods", ".numbers", ".tsv")
"""Files of these kinds are meant as tables: those that cannot be read are faults, not left out."""


@dataclass(frozen=True, slots=True)
class Source:
    """One table's file or sheet; `label` names it in messages."""

    table: str
    label: str
    path: Path
    sheet: Sheet | None = None


@dataclass(slots=True)
class Sources:
    """Everything found, in the order of paths and names."""

    tables: list[Source] = field(default_factory=list)
    books: list[Path] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    taken: set[Path] = field(default_factory=set)


def find_sources(paths: Sequence[Path], faults: Faults) -> Sources:
    """Look through files and folders; a file or sheet that is no table is a fault."""
    found = Sources()
    for path in paths:
        if path.is_dir():
            _look_through(path, found, faults)
        elif path.is_file():
            _take(path, found, faults)
        else:
            problem = "there is no such file or folder"
            faults.add(str(path), None, None, problem, "check the path")
    return found


def _look_through(folder: Path, found: Sources, faults: Faults) -> None:
    files = [path for path in sorted(folder.iterdir()) if not path.name.startswith((".", "~$"))]
    tables = [path for path in files if path.is_file() and path.suffix.lower() in _TABLE_SUFFIXES]
    for path in files:
        if path in tables:
            _take(path, found, faults)
        elif path.is_dir():
            found.remarks.append(f"{path.name}: a folder inside the folder was left out")
        else:
            found.remarks.append(f"{path.name}: left out, it is no CSV, XLSX or TOML file")
    if not tables:
        problem = "the folder holds no table and no rule book"
        faults.add(str(folder), None, None, problem, "name a folder with files such as units.csv")


def _take(path: Path, found: Sources, faults: Faults) -> None:
    """Take one file, once, by its suffix."""
    if path.resolve() in found.taken:
        return
    found.taken.add(path.resolve())
    suffix = path.suffix.lower()
    if (refused := _refusal_to_open(path)) is not None:
        problem = f"it cannot be opened ({refused})"
        faults.add(path.name, None, None, problem, "close it elsewhere and check who may read it")
    elif suffix == ".csv":
        found.tables += _csv_source(path, faults)
    elif suffix == ".xlsx":
        found.tables += _sheet_sources(path, found, faults)
    elif suffix == ".toml":
        found.books.append(path)
    else:
        problem = f"files of the kind '{path.suffix}' cannot be read"
        faults.add(path.name, None, None, problem, "save it as CSV UTF-8 or XLSX")


def _refusal_to_open(path: Path) -> str | None:
    try:
        path.open("rb").close()
    except OSError as refused:
        return refused.strerror or type(refused).__name__
    return None


def _table_of(name: str) -> str:
    return name.strip().split("-")[0].strip().lower()


def _csv_source(path: Path, faults: Faults) -> Iterator[Source]:
    table = _table_of(path.stem)
    if table in _NAMES:
        yield Source(table, path.name, path)
    else:
        problem = f"no table is called {shown(table)}"
        faults.add(path.name, None, None, problem, nearest(table, _NAMES))


def _sheet_sources(path: Path, found: Sources, faults: Faults) -> Iterator[Source]:
    before, tables = faults.total, 0
    for sheet in read_workbook(path, path.name, faults):
        table, label = _table_of(sheet.name), f"{path.name} sheet {sheet.name}"
        if table in _NAMES:
            tables += 1
            yield Source(table, label, path, sheet)
        elif table in _NOTE_SHEETS:
            found.remarks.append(f"{label}: left out")
        else:
            problem = f"no table is called {shown(table)}"
            mend = f"{nearest(table, _NAMES)} (a sheet called Notes is left out)"
            faults.add(label, None, None, problem, mend)
    if not tables and faults.total == before:
        problem = "no sheet has the name of a table"
        faults.add(path.name, None, None, problem, nearest("", _NAMES))
