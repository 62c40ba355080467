"""What is a table of a file: its columns, how each is read, and what one row must make sense of?

`read` turns a cell's text into a value; an empty cell, and a column left out, give `empty`. A
required column must be there and no cell of it empty. `checks` look at one record by itself; what
takes more than its own row to know is checked by `fleet.services.load`. A row with `withdrawn`
takes back the record of its key, and needs no other cell.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from fleet.domain import texts
from fleet.domain.records import RegisterRecord
from fleet.files import cells

__all__ = [
    "FROM",
    "NUMBER",
    "TASK",
    "WITHDRAWN",
    "WITHDRAWN_COLUMN",
    "Column",
    "RowFault",
    "Table",
    "entry_key",
    "name",
    "notes",
    "short",
]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name in the file and, where it differs, the field of the record."""

    name: str
    read: Callable[[str], object]
    required: bool = False
    is_key: bool = True
    """Whether a required cell is asked also of a row that is withdrawn."""
    empty: object = ""
    field: str = ""

    @property
    def target(self) -> str:
        """The field of the record that the column fills."""
        return self.field or self.name


@dataclass(frozen=True, slots=True)
class RowFault:
    """What is wrong between the cells of one row."""

    column: str
    problem: str
    mend: str


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its columns, and for register tables the making and checking of a record."""

    name: str
    columns: tuple[Column, ...]
    record: Callable[..., RegisterRecord] | None = None
    checks: Callable[[Any], Iterator[RowFault]] = lambda record: iter(())
    complete: Callable[[dict[str, Any]], None] = lambda values: None
    """Settles values that hang together, in place; may raise CellError, told under
    `subdivision`."""

    @property
    def required(self) -> list[str]:
        """The names of the columns that must be there and filled."""
        return [column.name for column in self.columns if column.required]


short, name = cells.text(texts.WORD_LENGTH), cells.text(texts.NAME_LENGTH)
"""Readers of a short name and of a long one."""
notes, entry_key = cells.prose(texts.PROSE_LENGTH), cells.text(texts.KEY_LENGTH)
WITHDRAWN = "withdrawn"
WITHDRAWN_COLUMN = Column(WITHDRAWN, cells.yes_or_no, empty=False)
NUMBER = Column("property_number", short, required=True)
TASK = Column("task", short, required=True)
FROM = Column("from", cells.civil_date, required=True, field="from_on")
