"""What text does a CSV file hold? Chunks of rows, or a sentence on how the file must be saved.

UTF-8 with or without a byte order mark, commas, RFC 4180 quoting. Everything is read as text, so
that property number 00417 stays as it is, and nothing is taken for a formula or a missing value.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from fleet.files.frames import CHUNK_ROWS, CellProblem, Chunk, checked_header
from fleet.files.table_shapes import Table
from fleet.services.load_ports import Faults

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["csv_chunks"]

_BLOCK_BYTES = 1 << 20
_SPARE_COLUMNS = 16
"""Rows with up to so many cells too many are told one by one; beyond, reading stops there."""
_TOO_MANY = re.compile(r"Expected \d+ fields in line (\d+), saw (\d+)")
_UNCLOSED = re.compile(r"EOF inside string starting at row (\d+)")
_AS_UTF8 = "save it again as UTF-8 (in a spreadsheet program: 'CSV UTF-8')"
_COMMA_MEND = "put cells that hold a comma in double quotes"


def csv_chunks(
    path: Path, label: str, table: Table, faults: Faults, rows: int = CHUNK_ROWS
) -> Iterator[Chunk]:
    """Yield the rows of a file, at most `rows` at a time; nothing if it cannot be read at all."""
    if (bad_row := _first_bad_row(path)) is not None:
        faults.add(label, bad_row, None, "the text is not UTF-8", _AS_UTF8)
        return
    header = _header(path)
    if not any(header):
        faults.add(label, 1, None, "there is no header", "write the column names in the first row")
    elif checked_header(label, table, header, faults):
        yield from _body(path, label, header, faults, rows)


def _first_bad_row(path: Path) -> int | None:
    """The line on which the first byte stands that is not UTF-8 (a NUL counts as one)."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    line = 1
    with path.open("rb") as file:
        while block := file.read(_BLOCK_BYTES):
            pending = len(decoder.getstate()[0])
            nul = block.find(b"\0")
            try:
                decoder.decode(block)
            except UnicodeDecodeError as wrong:
                return line + block[: max(0, wrong.start - pending)].count(b"\n")
            if nul >= 0:
                return line + block[:nul].count(b"\n")
            line += block.count(b"\n")
    return line if decoder.getstate()[0] else None


def _read(path: Path, **how: object) -> pd.io.parsers.TextFileReader:
    import pandas as pd

    return pd.read_csv(  # type: ignore[call-overload, no-any-return]
        path,
        header=None,
        dtype=object,
        keep_default_na=False,
        na_filter=False,
        skip_blank_lines=False,
        index_col=False,
        encoding="utf-8-sig",
        **how,
    )


def _header(path: Path) -> list[str]:
    from pandas.errors import EmptyDataError, ParserError

    try:
        with _read(path, chunksize=1) as reader:
            return [str(name).strip() for name in next(iter(reader)).iloc[0]]
    except (EmptyDataError, ParserError, StopIteration):
        return []


def _body(path: Path, label: str, header: list[str], faults: Faults, rows: int) -> Iterator[Chunk]:
    from pandas.errors import ParserError

    spare = [f"\0{place}" for place in range(_SPARE_COLUMNS)]
    try:
        with _read(path, chunksize=rows, names=[*header, *spare]) as reader:
            for frame in reader:
                frame.index += 1
                yield _chunk(frame.iloc[1:] if frame.index[0] == 1 else frame, header, spare)
    except ParserError as wrong:
        faults.add(label, *_told(str(wrong), len(header)))


def _chunk(frame: pd.DataFrame, header: list[str], spare: list[str]) -> Chunk:
    filled = (frame[spare] != "").any(axis=1)
    problems = [
        CellProblem(
            int(row), None, f"the row has more cells than the header's {len(header)}", _COMMA_MEND
        )
        for row in frame.index[filled]
    ]
    return Chunk(frame[header], problems)


def _told(message: str, columns: int) -> tuple[int | None, None, str, str]:
    """Row, column, problem and mend for what the parser says of a file it gives up on."""
    if match := _TOO_MANY.search(message):
        problem = f"the row has {match[2]} cells, the header {columns}"
        return int(match[1]), None, problem, _COMMA_MEND
    if match := _UNCLOSED.search(message):
        row = int(match[1]) + 1
        return row, None, "a double quote is opened and never closed", "close or delete it"
    return None, None, f"it is not CSV ({message})", "save it again as CSV UTF-8"
