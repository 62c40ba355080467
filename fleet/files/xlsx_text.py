"""What text do the sheets of a workbook hold? Each cell as a person would have typed it into CSV.

Dates come as YYYY-MM-DD, whole numbers without '.0', a number shown with leading zeros with them.
Merged cells, error values and formulas whose result was never saved cannot be used and are named.
"""

from __future__ import annotations

import datetime as dt
import re
import warnings
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING

from fleet.files.frames import CHUNK_ROWS, CellProblem, Chunk, checked_header
from fleet.files.table_shapes import Table
from fleet.services.load_ports import Faults

if TYPE_CHECKING:
    from openpyxl.cell import Cell
    from openpyxl.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["MAX_CELLS", "MAX_UNPACKED_BYTES", "Sheet", "read_workbook", "sheet_chunks"]

MAX_CELLS = 3_000_000
MAX_UNPACKED_BYTES = 100_000_000
"""Workbooks beyond these sizes are refused: memory stays bounded (zip bombs, too)."""

_ZEROS = re.compile(r"0+")
_SAVE_AS = "save it again as XLSX, or each sheet as CSV UTF-8"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: its cells, and the saved results of its formulas where it has any."""

    name: str
    cells: Worksheet
    results: Worksheet


def read_workbook(path: Path, label: str, faults: Faults) -> list[Sheet]:
    """The sheets of a workbook that have any cell; none, and a fault, where it cannot be read."""
    try:
        with path.open("rb") as file, warnings.catch_warnings():
            warnings.simplefilter("ignore")  # It warns of styles and rules that we do not read.
            found = _books(file, label, faults)
    except Exception:  # A damaged file brings out any error of zip, XML, numbers and dates.
        faults.add(label, None, None, "it is not an XLSX workbook that can be read", _SAVE_AS)
        return []
    if found is None:
        return []
    book, results = found
    return [
        Sheet(sheet.title, sheet, results[sheet.title])
        for sheet in book.worksheets
        if any(cell.value is not None for row in sheet.iter_rows() for cell in row)
    ]


def _books(file: IO[bytes], label: str, faults: Faults) -> tuple[Workbook, Workbook] | None:
    """The workbook and, where it has formulas, the one of their results; None where too large."""
    import openpyxl

    with zipfile.ZipFile(file) as packed:
        unpacked = sum(part.file_size for part in packed.infolist())
    if unpacked > MAX_UNPACKED_BYTES:
        problem = f"the workbook holds {unpacked:,} bytes, over {MAX_UNPACKED_BYTES:,}"
        faults.add(label, None, None, problem, "save its large sheets as CSV UTF-8")
        return None
    if not all(_is_of_sane_size(sheet, label, faults) for sheet in _outline(file).worksheets):
        return None
    book = openpyxl.load_workbook(file)
    if not all(_is_of_sane_size(sheet, label, faults) for sheet in book.worksheets):
        return None
    return book, openpyxl.load_workbook(file, data_only=True) if _has_formula(book) else book


def _outline(file: IO[bytes]) -> Workbook:
    """The workbook with the sizes its sheets say they have, before any cell is read.

    Raises KeyError for a sheet whose part is missing: openpyxl would leave it out without a word.
    """
    from openpyxl.reader.excel import ExcelReader

    reader = ExcelReader(file, read_only=True)
    reader.read()
    for sheet, _ in reader.parser.find_sheets():
        if sheet.name not in reader.wb.sheetnames:
            raise KeyError(sheet.name)
    return reader.wb


def _is_of_sane_size(sheet: Worksheet, label: str, faults: Faults) -> bool:
    """Say whether a sheet's cells can all be held; formatted empty cells count."""
    rows, columns = sheet.max_row or 0, sheet.max_column or 0  # None where it does not say
    if rows * columns <= MAX_CELLS:
        return True
    problem = f"the sheet spans {rows:,} rows and {columns:,} columns"
    mend = "delete the empty rows and columns around its data, or save it as CSV UTF-8"
    faults.add(f"{label} sheet {sheet.title}", None, None, problem, mend)
    return False


def _has_formula(book: Workbook) -> bool:
    return any(
        cell.data_type == "f"
        for sheet in book.worksheets
        for row in sheet.iter_rows()
        for cell in row
    )


def sheet_chunks(
    sheet: Sheet, label: str, table: Table, faults: Faults, rows: int = CHUNK_ROWS
) -> Iterator[Chunk]:
    """Yield the rows of a sheet, at most `rows` at a time; nothing if its header cannot be used."""
    header = [_text(cell, {}) for cell in sheet.cells[1]]
    while header and not header[-1]:
        header.pop()
    if not header:
        faults.add(label, 1, None, "there is no header", "write the column names in the first row")
        return
    merged = _merged(sheet)
    if 1 in merged:
        faults.add(label, 1, None, merged[1], "unmerge it: a header names one column a cell")
    elif checked_header(label, table, header, faults):
        for first in range(2, sheet.cells.max_row + 1, rows):
            yield _chunk(sheet, header, first, rows, merged)


def _merged(sheet: Sheet) -> Mapping[int, str]:
    """What to say of each row that a merged range begins in."""
    return {
        area.min_row: f"the cells {area.coord} are merged"
        for area in sheet.cells.merged_cells.ranges
    }


def _chunk(
    sheet: Sheet, header: list[str], first: int, rows: int, merged: Mapping[int, str]
) -> Chunk:
    import pandas as pd

    last = min(first + rows - 1, sheet.cells.max_row)
    numbers = range(first, last + 1)
    problems = [
        CellProblem(row, None, merged[row], "unmerge them and fill each cell")
        for row in numbers
        if row in merged
    ]
    texts = []
    for row in sheet.cells.iter_rows(min_row=first, max_row=last):
        texts.append([_told_text(sheet, cell, header, problems) for cell in row[: len(header)]])
        if any(cell.value is not None for cell in row[len(header) :]):
            problem = f"the row has cells beyond the header's {len(header)}"
            problems.append(
                CellProblem(row[0].row, None, problem, "name their column or delete them")
            )
    frame = pd.DataFrame(texts, columns=header, index=numbers, dtype=object)
    return Chunk(frame, problems)


def _told_text(sheet: Sheet, cell: Cell, header: list[str], problems: list[CellProblem]) -> str:
    """The text of a cell; what is wrong with it goes to `problems`."""
    wrong: dict[str, str] = {}
    if cell.data_type == "f":
        result = sheet.results[cell.coordinate]
        told = _text(result, wrong)
        if result.value is None:
            wrong["the result of the formula in this cell was never saved"] = (
                "open and save the workbook in a spreadsheet program, or type the value"
            )
    else:
        told = _text(cell, wrong)
    column = header[cell.column - 1]
    problems.extend(CellProblem(cell.row, column, what, mend) for what, mend in wrong.items())
    return told


def _text(cell: Cell, wrong: dict[str, str]) -> str:
    """A cell's value as text; `wrong` takes what is wrong with it, and its mend."""
    value = cell.value
    if value is None:
        return ""
    if cell.data_type == "e":
        wrong[f"the cell holds the error {value}"] = "mend the formula, or type the value"
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat()
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, int) and _ZEROS.fullmatch(cell.number_format):
        return str(value).zfill(len(cell.number_format))
    return str(value).strip()
