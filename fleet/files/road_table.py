"""How far is it by a distance table, and how long does the drive take?

A CSV file of one of two shapes: a row a leg, `from,to,miles,minutes`; or a square, a row and a
column a place, its first column `place`, its cells miles, and the minutes by one speed.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Final

from fleet.domain.plan_file import RoadTable
from fleet.domain.texts import shown
from fleet.files.cells import CellError, reading
from fleet.services.load_ports import Faults

__all__ = ["read_road_table"]

_COLUMNS: Final = ("from", "to", "miles", "minutes")
_CORNER: Final = "place"
_MOST_MILES, _MOST_MINUTES = 10_000, 20_000
Rows = list[tuple[int, list[str]]]
Legs = dict[tuple[str, str], int]


def read_road_table(
    path: Path, label: str, miles_an_hour: float, faults: Faults
) -> RoadTable | None:
    """Read a table; each fault is added under its row. None where it cannot be read at all."""
    rows = _rows(path, label, faults)
    if not rows:
        return None
    header = rows[0][1]
    if tuple(sorted(header)) == tuple(sorted(_COLUMNS)):
        return _from_rows(label, header, rows[1:], faults)
    if header[0] == _CORNER:
        return _from_square(label, header[1:], rows[1:], miles_an_hour, faults)
    problem = f"its columns are {', '.join(map(shown, header[:6]))}"
    mend = f"write {','.join(_COLUMNS)}, a row a leg; or place and a column a place, in miles"
    faults.add(label, 1, None, problem, mend)
    return None


def _rows(path: Path, label: str, faults: Faults) -> Rows:
    """The rows that hold something, with their numbers, the header first."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
        lines = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except OSError as refused:
        problem = f"it cannot be opened ({refused.strerror or type(refused).__name__})"
        faults.add(label, None, None, problem, "table is a path from the plan file's own folder")
        return []
    except (UnicodeDecodeError, csv.Error) as wrong:
        faults.add(label, None, None, f"it is not CSV ({wrong})", "save it again as CSV UTF-8")
        return []
    rows = [(n, [cell.strip() for cell in line]) for n, line in enumerate(lines, 1) if any(line)]
    if not rows:
        faults.add(label, None, None, "the table is empty", "write its header and its rows")
    return [row for row in rows if _is_whole(row, len(rows[0][1]), label, faults)]


def _is_whole(row: tuple[int, list[str]], cells: int, label: str, faults: Faults) -> bool:
    number, found = row
    if len(found) != cells:
        problem = f"the row has {len(found)} cells, the header {cells}"
        faults.add(label, number, None, problem, "write as many as the header has")
    return len(found) == cells


def _from_rows(label: str, header: Sequence[str], rows: Rows, faults: Faults) -> RoadTable:
    miles: Legs = {}
    minutes: Legs = {}
    for number, cells in rows:
        named = dict(zip(header, cells, strict=True))
        leg = named["from"], named["to"]
        if leg in miles:
            problem = f"from {shown(leg[0])} to {shown(leg[1])} is told already"
            faults.add(label, number, None, problem, "keep one of the two rows")
        miles[leg] = _cell(label, number, "miles", named["miles"], _miles, faults)
        minutes[leg] = _cell(label, number, "minutes", named["minutes"], _minutes, faults)
    return RoadTable(file=label, miles=miles, minutes=minutes)


def _from_square(
    label: str, places: Sequence[str], rows: Rows, miles_an_hour: float, faults: Faults
) -> RoadTable:
    """A square that lacks the row or the column of a place is a fault a place."""
    for problem, mend in _not_square(places, [cells[0] for _, cells in rows]):
        faults.add(label, None, None, problem, mend)
    miles: Legs = {}
    for number, (of, *cells) in rows:
        for to, cell in zip(places, cells, strict=True):
            miles[of, to] = _cell(label, number, to, cell, _miles, faults)
    speed = Decimal(str(miles_an_hour))
    minutes = {leg: _whole(Decimal(of) * 60 / (100 * speed)) for leg, of in miles.items()}
    return RoadTable(file=label, miles=miles, minutes=minutes)


def _whole(minutes: Decimal) -> int:
    return int(minutes.to_integral_value(ROUND_CEILING))


def _not_square(columns: Sequence[str], rows: Sequence[str]) -> Iterator[tuple[str, str]]:
    for name in dict.fromkeys(columns):
        if name not in rows:
            yield f"not square: {shown(name)} has a column and no row", f"add a row {name},…"
        if columns.count(name) > 1:
            yield f"{shown(name)} has {columns.count(name)} columns", "keep one"
    for name in dict.fromkeys(rows):
        if name not in columns:
            yield f"not square: {shown(name)} has a row and no column", f"add a column {name}"
        if rows.count(name) > 1:
            yield f"{shown(name)} has {rows.count(name)} rows", "keep one"


def _cell(
    label: str, row: int, column: str, cell: str, read: Callable[[str], int], faults: Faults
) -> int:
    try:
        return read(cell)
    except CellError as wrong:
        faults.add(label, row, column, wrong.problem, wrong.mend)
        return 0


def _miles(cell: str) -> int:
    """Miles as hundredths, rounded half up."""
    miles = Decimal(reading(cell)) if cell else None
    if miles is None or not 0 <= miles <= _MOST_MILES:
        problem = f"{shown(cell)} is no distance from 0 to {_MOST_MILES:,} miles"
        raise CellError(problem, "write miles in digits, as 38.5")
    return int((miles * 100).to_integral_value(ROUND_HALF_UP))


def _minutes(cell: str) -> int:
    if not (cell.isascii() and cell.isdigit()) or int(cell) > _MOST_MINUTES:
        problem = f"{shown(cell)} is no whole number from 0 to {_MOST_MINUTES:,}"
        raise CellError(problem, "write whole minutes in digits")
    return int(cell)
