"""How are many rows inserted or read at once, at the speed of the driver?

Both databases read dates and instants from text, so the rows to insert are the same for both.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Any, TypeVar

import sqlalchemy as sa

__all__ = ["Cell", "chunks", "driver_columns", "insert_rows"]

Cell = str | int | bool | bytes | float | None
_Item = TypeVar("_Item")

PARAMETERS = 900
"""As many values go into one statement; SQLite before 3.32 took 999."""

_ROWS_AT_ONCE = 200
"""As many rows stand beside each other as tuples; more would set the garbage collector off."""


def chunks(items: Sequence[_Item], size: int = PARAMETERS) -> Iterator[list[_Item]]:
    """Cut a sequence into lists of `size`, the last one shorter."""
    rest = iter(items)
    while chunk := list(islice(rest, size)):
        yield chunk


def insert_rows(
    connection: sa.Connection, table: sa.Table, columns: Sequence[str], rows: list[tuple[Cell, ...]]
) -> None:
    """Insert rows whose cells stand in the order of `columns`.

    What the database refuses is raised as SQLAlchemy's or the driver's own error.
    """
    if not rows:
        return
    quote = connection.dialect.identifier_preparer.quote
    names = ", ".join(quote(column) for column in columns)
    if connection.dialect.name == "sqlite":
        marks = ", ".join("?" * len(columns))
        connection.exec_driver_sql(f"INSERT INTO {table.name} ({names}) VALUES ({marks})", rows)  # noqa: S608
        return
    driver: Any = connection.connection.driver_connection
    with driver.cursor() as cursor, cursor.copy(f"COPY {table.name} ({names}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


def driver_columns(
    connection: sa.Connection, query: sa.Select[Any], columns: int
) -> list[list[Any]]:
    """All rows as the driver gives them, column by column; no more than a few at once as rows."""
    found: list[list[Any]] = [[] for _ in range(columns)]
    with connection.execute(query) as result:
        while rows := result.cursor.fetchmany(_ROWS_AT_ONCE):
            for column, part in zip(found, zip(*rows, strict=True), strict=True):
                column.extend(part)
    return found
