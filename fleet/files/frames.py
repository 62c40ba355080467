"""What does a table look like before its cells are read? Columns of text, and rows with a number.

A sheet comes as one or more chunks. A chunk is a pandas frame of text (dtype object): the columns
are the header's names, the index counts rows as a person does (the header is row 1).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fleet.domain.texts import shown
from fleet.files.cells import nearest
from fleet.files.table_shapes import Table
from fleet.services.load_ports import Faults

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CHUNK_ROWS", "CellProblem", "Chunk", "checked_header"]

CHUNK_ROWS = 50_000


@dataclass(frozen=True, slots=True)
class CellProblem:
    """A cell (or, without a column, a row) that the form of the file already makes unusable."""

    row: int
    column: str | None
    problem: str
    mend: str


@dataclass(frozen=True, slots=True)
class Chunk:
    """Some rows of a table, and the cells among them that cannot be used."""

    frame: pd.DataFrame
    problems: list[CellProblem] = field(default_factory=list)


def checked_header(label: str, table: Table, header: Iterable[str], faults: Faults) -> bool:
    """Say whether a header can be used; what is wrong with it goes to `faults`."""
    before, names = faults.total, [name.strip() for name in header]
    known = [column.name for column in table.columns]
    for problem, mend in _header_faults(table, names, known):
        faults.add(label, 1, None, problem, mend)
    return faults.total == before


def _header_faults(table: Table, names: list[str], known: list[str]) -> Iterator[tuple[str, str]]:
    if len(names) == 1 and (mark := next((m for m in ";\t|" if m in names[0]), None)):
        told = "tabs" if mark == "\t" else f"'{mark}'"
        yield f"its cells are parted by {told}", "save it as CSV with commas"
        return
    for place, name in enumerate(names, start=1):
        if not name:
            yield (
                f"column {place} has no name",
                f"name it, or delete it if it is empty ({table.name})",
            )
        elif name not in known:
            yield f"unknown column {shown(name)}", nearest(name, known)
        elif names.index(name) < place - 1:
            yield f"column '{name}' stands there twice", "keep one of them"
    for name in table.required:
        if name not in names:
            yield f"column '{name}' is missing", f"add it: {table.name} cannot be read without it"
