"""May the printed charts of some files stand in the record? A print never becomes another one.

What is frozen in a print must be readable as long as the record stands, so it is read here once.
"""

from __future__ import annotations

import json
from calendar import isleap
from collections.abc import Iterator, Mapping
from typing import Any

from fleet.domain.prints import Print
from fleet.errors import FleetError
from fleet.services.charts.facts import RowRole
from fleet.services.charts.frozen import FrozenRow, rows_of
from fleet.services.charts.periods import MONTHS_OF_EACH, periods_of_year, weeks_of_year
from fleet.services.load_merge import Merged
from fleet.services.load_ports import Faults, Row

__all__ = ["LAYOUTS", "check_prints"]

LAYOUTS = {"1": frozenset({"box_rows", "layout", "months", "row", "rows", "slots"})}
"""What the geometry of each layout tells (`fleet.charts.geometry`)."""
_MONTHS_A_PAGE = (1, 2, 3, 4, 6, 12)
_DATED = RowRole.DATED.value
_AS_EXPORTED = "write it as it was exported"
Wrong = tuple[str, str, str]
"""A column, what is wrong in it, and the mend."""


def check_prints(merged: Merged, faults: Faults) -> None:
    """A print that stands is not changed, and a new one can be read.

    One that is replaced is known and of the same chart, and does not replace it in turn.
    """
    sound: set[str] = set()
    for row in merged.rows(Print).values():
        old = merged.before(Print).get(row.record.key)
        if old == row.record:
            continue
        if old is not None:
            problem = f"print {old.number} stands in the record and says otherwise"
            mend = "a print is never changed: take the row out, or write it as it was exported"
            faults.add(row.file, row.row, "number", problem, mend)
            continue
        for wrong in (*_unreadable(row.record), *_ring(merged, row.record, sound)):
            faults.add(row.file, row.row, *wrong)
        _check_replaced(merged, row, faults)


def _check_replaced(merged: Merged, row: Row[Print], faults: Faults) -> None:
    one, earlier = row.record, merged.now(Print).get((row.record.replaces,))
    if not one.replaces or merged.is_spoiled(Print, one.replaces):
        return
    if earlier is None:
        mend = "add it to prints, or leave it empty"
        faults.add(row.file, row.row, "replaces", f"no print '{one.replaces}'", mend)
    elif _what(earlier) != _what(one):
        problem = f"print {earlier.number} is of {' '.join(_what(earlier))}"
        mend = "write the number of one of the same unit, site and year"
        faults.add(row.file, row.row, "replaces", problem, mend)


def _what(one: Print) -> tuple[str, str, str]:
    return one.property_number, one.site, str(one.year)


def _ring(merged: Merged, one: Print, sound: set[str]) -> Iterator[Wrong]:
    """A fault where what a print replaces replaces it in turn; sound: numbers not to follow."""
    way: list[str] = []
    here: Print | None = one
    while here is not None and here.number not in sound and here.number not in way:
        way.append(here.number)
        here = merged.now(Print).get((here.replaces,))
    begins = way.index(here.number) if here is not None and here.number in way else len(way)
    if begins == 0 and len(way) > 1:
        problem = f"prints would replace each other: {', '.join(way)}"
        yield "replaces", problem, "leave it empty in the one that was printed first"
    sound.update(way[:begins] or way)


def _unreadable(one: Print) -> Iterator[Wrong]:
    """What of a print could not be read back."""
    try:
        rows = rows_of(one)
    except FleetError:
        yield "rows", "it does not tell of rows of a chart", _AS_EXPORTED
        return
    yield from _cells(one, rows)
    yield from _geometry(one, rows)


def _cells(one: Print, rows: tuple[FrozenRow, ...]) -> Iterator[Wrong]:
    told = one.cells.split(" ") if rows else []
    for turn, (row, signs) in enumerate(zip(rows, told, strict=True), 1):
        if len(signs) != (count := _count(row, one.year)):
            what = f"row {turn} ({row.task or row.title}) tells of {len(signs)} cells"
            problem = f"{what}, and as {_sort(row)} of {one.year} it has {count}"
            yield "cells", problem, _AS_EXPORTED


def _sort(row: FrozenRow) -> str:
    return (
        f"a row of {row.each.value}s"
        if row.role is RowRole.BOX and row.each
        else (f"a row of sort '{row.role.value}'")
    )


def _count(row: FrozenRow, year: int) -> int:
    """How many cells a row has in a year; none of duties whose boxes stand in the head."""
    if row.role is RowRole.DATED:
        return 0
    if row.role is RowRole.WEEK:
        return weeks_of_year(year)
    if row.role is RowRole.BOX:
        return periods_of_year(row.each) if row.each in MONTHS_OF_EACH else 0
    return 366 if isleap(year) else 365


def _geometry(one: Print, rows: tuple[FrozenRow, ...]) -> Iterator[Wrong]:
    known = LAYOUTS.get(one.layout)
    if known is None:
        mend = f"write the one it was printed in, of {', '.join(LAYOUTS)}"
        yield "layout", f"no layout '{one.layout}' is known", mend
        return
    told: Mapping[str, Any] = json.loads(one.geometry)
    if told.keys() != known:
        problem = f"layout {one.layout} tells {', '.join(sorted(known))}"
        yield "geometry", problem, _AS_EXPORTED
    elif not _is_whole(told, one, rows):
        problem = "it does not agree with layout, pages and rows"
        yield "geometry", problem, _AS_EXPORTED


def _is_whole(told: Mapping[str, Any], one: Print, rows: tuple[FrozenRow, ...]) -> bool:
    """Say whether a geometry has the sorts of values it must, and tells of these rows."""
    if not all(type(told[name]) is int and told[name] > 0 for name in ("box_rows", "slots")):
        return False
    if type(told["months"]) is not int or told["months"] not in _MONTHS_A_PAGE:
        return False
    if type(told["row"]) not in (int, float) or not isinstance(told["rows"], list):
        return False
    roles = [_role(row) for row in rows]
    return (
        told["layout"] == one.layout
        and told["months"] * one.pages == 12
        and [role for role in told["rows"] if role != _DATED]
        == [role for role in roles if role != _DATED]
    )


def _role(row: FrozenRow) -> str:
    """What a row is in a geometry: a box by its period."""
    return row.each.value if row.role is RowRole.BOX and row.each else row.role.value
