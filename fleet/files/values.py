"""Which rows of a chunk can be used, and what do they say? Each distinct text is read once.

A fault names row and column. A row with a fault is left out; a blank row is not a row.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fleet.files.cells import CellError
from fleet.files.frames import CellProblem, Chunk
from fleet.files.table_shapes import WITHDRAWN, Column, Table

if TYPE_CHECKING:
    import numpy.typing as npt
    import pandas as pd

__all__ = ["Values", "chunk_values"]

_BLANKS = " \t\r\n\u00a0"
_TOTAL = re.compile(r"(?:grand |sub)?-?totals?:?\b|sum:?$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Values:
    """The rows of a chunk that can be used; `columns` hold a value a row, by column name.

    `problems` tells of the other rows, in the order of rows; `spoiled` holds what their first
    required cells said, empty where there is none.
    """

    numbers: list[int]
    columns: dict[str, list[Any]]
    problems: list[CellProblem]
    spoiled: frozenset[str]


def chunk_values(chunk: Chunk, table: Table) -> Values:
    """Read every cell of a chunk (design 7)."""
    frame, numbers = chunk.frame, chunk.frame.index.to_numpy()
    is_filled = np.zeros(len(frame), dtype=bool)
    problems = list(chunk.problems)
    columns: dict[str, npt.NDArray[Any]] = {}
    empty_of: dict[str, npt.NDArray[np.bool_]] = {}
    for column in table.columns:
        if column.name not in frame:
            continue
        read = _column(frame[column.name], column)
        columns[column.name], empty_of[column.name] = read.values, read.is_empty
        is_filled |= ~read.is_empty
        problems += read.problems
    totals = set(_total_rows(frame, table, empty_of, is_filled, problems))
    told = {(problem.row, problem.column) for problem in problems}
    problems += [
        CellProblem(number, name, "the cell is empty", "fill it in")
        for number, name in _empty_cells(table, numbers, empty_of, is_filled, columns)
        if number not in totals and (number, name) not in told
    ]
    bad = {problem.row for problem in problems} | totals
    keep = is_filled & ~np.isin(numbers, list(bad)) if bad else is_filled
    return Values(
        numbers[keep].tolist(),
        _given(table, columns, keep),
        _in_order(problems, totals, table),
        _spoiled(frame, table, bad),
    )


def _given(
    table: Table, columns: dict[str, npt.NDArray[Any]], keep: npt.NDArray[np.bool_]
) -> dict[str, list[Any]]:
    rows = int(keep.sum())
    return {
        column.name: columns[column.name][keep].tolist()
        if column.name in columns
        else [column.empty] * rows
        for column in table.columns
    }


@dataclass(frozen=True, slots=True)
class _Read:
    values: npt.NDArray[Any]
    is_empty: npt.NDArray[np.bool_]
    problems: list[CellProblem]


def _column(texts: pd.Series[str], column: Column) -> _Read:
    """Read one column: factorised, so that each distinct text is read once."""
    import pandas as pd

    codes, words = pd.factorize(texts)
    meanings = np.empty(len(words), dtype=object)
    is_empty = np.zeros(len(words), dtype=bool)
    faults: dict[int, CellError] = {}
    for place, word in enumerate(words):
        word = word.strip(_BLANKS)
        is_empty[place] = not word
        try:
            meanings[place] = column.read(word) if word else column.empty
        except CellError as fault:
            faults[place] = fault
    problems = []
    if faults:
        for row in np.flatnonzero(np.isin(codes, list(faults))):
            wrong = faults[int(codes[row])]
            number = int(texts.index[int(row)])
            problems.append(CellProblem(number, column.name, wrong.problem, wrong.mend))
    return _Read(meanings[codes], is_empty[codes], problems)


def _empty_cells(
    table: Table,
    numbers: npt.NDArray[np.int64],
    empty_of: dict[str, npt.NDArray[np.bool_]],
    is_filled: npt.NDArray[np.bool_],
    columns: dict[str, npt.NDArray[Any]],
) -> Iterator[tuple[int, str]]:
    """Row and column of each required cell that is empty in a row that is not."""
    is_withdrawn = columns.get(WITHDRAWN, np.zeros(len(numbers))).astype(np.bool_)
    for column in table.columns:
        if column.required:
            is_asked = is_filled if column.is_key else is_filled & ~is_withdrawn
            for number in numbers[empty_of[column.name] & is_asked]:
                yield int(number), column.name


def _total_rows(
    frame: pd.DataFrame,
    table: Table,
    empty_of: dict[str, npt.NDArray[np.bool_]],
    is_filled: npt.NDArray[np.bool_],
    problems: list[CellProblem],
) -> Iterator[int]:
    """Rows that sum up: every required cell empty, or a first word 'Total' beside a fault."""
    has_none = is_filled.copy()
    lacks_one = np.zeros(len(frame), dtype=bool)
    for name in table.required:
        has_none &= empty_of[name]
        lacks_one |= empty_of[name] & is_filled
    yield from frame.index[has_none].tolist()
    suspect = {problem.row for problem in problems} | set(frame.index[lacks_one].tolist())
    first = frame.columns[0]
    for number in suspect:
        if _TOTAL.match(str(frame.at[number, first]).strip()):
            yield number


def _in_order(problems: list[CellProblem], totals: set[int], table: Table) -> list[CellProblem]:
    """Problems by row and then in the order of the table's columns; one for a row that sums up."""
    place = {column.name: at for at, column in enumerate(table.columns)}
    told = [problem for problem in problems if problem.row not in totals]
    told += [
        CellProblem(
            number,
            None,
            f"the row looks like a total: {_listed(table.required)} cannot be read from it",
            "delete the row if it sums up others, else fill it in",
        )
        for number in totals
    ]
    return sorted(told, key=lambda problem: (problem.row, place.get(problem.column or "", -1)))


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _spoiled(frame: pd.DataFrame, table: Table, bad: set[int]) -> frozenset[str]:
    name = table.required[0]
    return frozenset(str(frame.at[row, name]).strip(_BLANKS) for row in bad)
