"""What record does a form mean, whose fields are the columns of a file's table?

Read by the same columns as a file, so that what one refuses cannot come in by the other.
"""

from __future__ import annotations

from collections.abc import Mapping

from fleet.domain.records import RegisterRecord
from fleet.errors import BadInput, Fault
from fleet.files.cells import CellError
from fleet.files.table_shapes import WITHDRAWN, Column, Table
from fleet.files.tables import TABLES

__all__ = ["form_row"]


def form_row(table_name: str, given: Mapping[str, str]) -> RegisterRecord:
    """The record of one row, by column name; a column that is not given is empty.

    Raises BadInput with a fault a column.
    """
    table, faults = TABLES[table_name], list[Fault]()
    fields = {
        column.target: _value(table, column, given.get(column.name, "").strip(), faults)
        for column in table.columns
        if column.name != WITHDRAWN
    }
    if faults or table.record is None:
        raise BadInput(faults)
    try:
        table.complete(fields)
    except CellError as wrong:
        raise BadInput([_fault(table, "subdivision", wrong.problem, wrong.mend)]) from None
    record = table.record(**fields)
    if wrongs := list(table.checks(record)):
        raise BadInput([_fault(table, one.column, one.problem, one.mend) for one in wrongs])
    return record


def _value(table: Table, column: Column, text: str, faults: list[Fault]) -> object:
    if not text:
        if column.required:
            faults.append(_fault(table, column.name, "nothing is given", "fill it in"))
        return column.empty
    try:
        return column.read(text)
    except CellError as wrong:
        faults.append(_fault(table, column.name, wrong.problem, wrong.mend))
        return column.empty


def _fault(table: Table, column: str, problem: str, mend: str) -> Fault:
    return Fault(table.name, None, column, problem, mend)
