"""Which columns has the table of printed charts, and what must one row of it make sense of?

Its long cells are no prose: signs of days and cells, and JSON, kept as they were written.
"""

from __future__ import annotations

import json
import re
from calendar import isleap
from collections.abc import Callable, Iterator
from typing import Any

from fleet.domain.prints import Print
from fleet.domain.texts import check_text, shown
from fleet.files import cells
from fleet.files.cells import CellError
from fleet.files.table_shapes import NUMBER, Column, RowFault, Table, short
from fleet.services.charts.facts import RowRole
from schedules.rules import FIRST_YEAR, LAST_YEAR

__all__ = ["PRINTS"]

_LONGEST = 32_767
"""So many characters a cell of a workbook holds; ours are shorter by far."""
_SIGNS_OF_DAYS = re.compile(r"[.WHCONRBE]+")
_SIGNS_OF_CELLS = re.compile(r"[.,dufeWHCONRBEX]*(?: [.,dufeWHCONRBEX]*)*")
_WITHOUT_CELLS = RowRole.DATED.value
"""The role of a row that has no cell; such rows are the last."""
_YEAR, _PAGES = re.compile(r"[0-9]{4}"), re.compile(r"[0-9]{1,2}")
_MOST_PAGES = 12
_AS_EXPORTED = "write it as it was exported"


def _formed(form: str, what: str, mend: str) -> Callable[[str], str]:
    """Make a reader of text of one form."""
    pattern = re.compile(form)

    def read(value: str) -> str:
        if not pattern.fullmatch(value):
            raise CellError(f"{shown(value)} is no {what}", mend)
        return value

    return read


def _whole(pattern: re.Pattern[str], least: int, most: int, what: str) -> Callable[[str], int]:
    def read(value: str) -> int:
        if not pattern.fullmatch(value) or not least <= int(value) <= most:
            raise CellError(f"{shown(value)} is no {what}", f"write one from {least} to {most}")
        return int(value)

    return read


def _signs(pattern: re.Pattern[str], what: str) -> Callable[[str], str]:
    def read(value: str) -> str:
        if len(value) > _LONGEST or not pattern.fullmatch(value):
            raise CellError(f"{shown(value)} are no signs of {what}", _AS_EXPORTED)
        return value

    return read


def _json(kind: type, what: str) -> Callable[[str], str]:
    """Make a reader of JSON of one kind; it stays the text it is."""

    def read(value: str) -> str:
        wrong = check_text(value, _LONGEST)
        try:
            is_right = wrong is None and isinstance(json.loads(value), kind)
        except (ValueError, RecursionError):
            is_right = False
        if not is_right:
            raise CellError(f"{shown(value)} is no {what} in JSON", _AS_EXPORTED)
        return value

    return read


def _instant(value: str) -> str:
    """The instant in UTC: whatever zone it is written in, it is the same one."""
    return cells.instant(value).isoformat()


def _with_last_rows(values: dict[str, Any]) -> None:
    """Put the blanks back behind the cells that part the last rows, which have none.

    What stands at the end of a cell of a file is not read.
    """
    rows, told = json.loads(values["rows"]), values["cells"].split()
    missing = rows[len(told) :]
    if all(isinstance(row, dict) and row.get("role") == _WITHOUT_CELLS for row in missing):
        values["cells"] = " ".join([*told, *("" for _ in missing)])


def _print_faults(one: Print) -> Iterator[RowFault]:
    days, rows = 366 if isleap(one.year) else 365, len(json.loads(one.rows))
    if len(one.days) != days:
        problem = f"it tells of {len(one.days)} days, and {one.year} has {days}"
        yield RowFault("days", problem, _AS_EXPORTED)
    if (told := len(one.cells.split(" ")) if one.cells or rows == 1 else 0) != rows:
        yield RowFault("cells", f"it tells of {told} rows, and rows of {rows}", _AS_EXPORTED)
    if one.replaces == one.number:
        yield RowFault("replaces", "it is the print's own number", "leave it empty")


_number = _formed(r"[0-9A-Z]{8}", "number of a print", "write its 8 characters of 0-9 and A-Z")

PRINTS = Table(
    "prints",
    (
        Column("number", _number, required=True),
        NUMBER,
        Column("site", short, required=True),
        Column("year", _whole(_YEAR, FIRST_YEAR, LAST_YEAR, "year"), required=True),
        Column("printed_on", cells.civil_date, required=True),
        Column("replaces", _number),
        Column("known_at", _instant),
        Column("paper", _formed("letter|a4", "paper", "write letter or a4"), required=True),
        Column(
            "layout",
            _formed("[0-9A-Z]", "layout", "write the one character that stands on the chart"),
            required=True,
        ),
        Column("pages", _whole(_PAGES, 1, _MOST_PAGES, "number of pages"), required=True),
        Column("geometry", _json(dict, "geometry"), required=True),
        Column("days", _signs(_SIGNS_OF_DAYS, "days"), required=True),
        Column("rows", _json(list, "list of rows"), required=True),
        Column("cells", _signs(_SIGNS_OF_CELLS, "cells")),
    ),
    Print,
    _print_faults,
    _with_last_rows,
)
