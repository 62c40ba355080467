"""Which marks are live, now or as known at an instant, and what is kept of them by the year?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import GenericFunction

from fleet.domain.records import Mark
from fleet.services.ports import MarkColumns
from fleet.storage.bulk import chunks
from fleet.storage.canonical import instant_text
from fleet.storage.schema import entry as table

__all__ = ["read_marks"]

_ROWS_AT_ONCE = 50_000


class _DayNumber(GenericFunction[int]):
    """Days from 1970-01-01 to a date column."""

    type = sa.Integer()
    inherit_cache = True
    name = "day_number"


@compiles(_DayNumber, "sqlite")
def _day_number_on_sqlite(element: _DayNumber, compiler: SQLCompiler, **words: bool) -> str:
    column = compiler.process(element.clauses, **words)
    return f"CAST(julianday({column}) - 2440587.5 AS INTEGER)"


@compiles(_DayNumber, "postgresql")
def _day_number_on_postgresql(element: _DayNumber, compiler: SQLCompiler, **words: bool) -> str:
    column = compiler.process(element.clauses, **words)
    return f"({column} - DATE '1970-01-01')"


def read_marks(
    connection: sa.Connection, unit_ids: Sequence[int] | None, known_at: dt.datetime | None
) -> MarkColumns:
    """Marks that no entry known then strikes; an entry without a mark is none.

    Raises ValueError for an instant without a time zone.
    """
    if known_at is not None:
        instant_text(known_at)
    task_names: dict[str, int] = {}
    parts = [
        _part(rows, task_names)
        for query in _queries(unit_ids, known_at)
        for rows in _stream(connection, query)
    ]
    empty = _part([], task_names)
    whole = [np.concatenate(columns) for columns in zip(*[empty, *parts], strict=True)]
    units, tasks, from_days, to_days, is_done = whole
    return MarkColumns(
        unit_ids=units,
        tasks=tasks,
        task_names=tuple(task_names),
        from_days=from_days,
        to_days=to_days,
        is_done=is_done,
    )


def _queries(
    unit_ids: Sequence[int] | None, known_at: dt.datetime | None
) -> Iterator[sa.Select[Any]]:
    query = (
        sa.select(
            table.c.unit_id,
            table.c.task,
            _DayNumber(table.c.on),
            _DayNumber(sa.func.coalesce(table.c.to_on, table.c.on)),
            sa.cast(table.c.mark == Mark.DONE, sa.Integer),
        )
        .where(table.c.mark.is_not(None))
        .where(table.c.key.not_in(_struck(known_at)))
    )
    if known_at is not None:
        query = query.where(_known_at() <= known_at)
    if unit_ids is None:
        yield query
        return
    for chunk in chunks(sorted(set(unit_ids))):
        yield query.where(table.c.unit_id.in_(chunk))


def _struck(known_at: dt.datetime | None) -> sa.Select[Any]:
    """The keys that entries known at an instant strike."""
    correction = table.alias()
    query = sa.select(correction.c.strikes).where(correction.c.strikes != "")
    if known_at is None:
        return query
    return query.where(
        sa.func.coalesce(correction.c.recorded_at, correction.c.stored_at) <= known_at
    )


def _known_at() -> sa.ColumnElement[dt.datetime]:
    """The instant from which an entry counts (design 4.6)."""
    return sa.func.coalesce(table.c.recorded_at, table.c.stored_at)


def _stream(connection: sa.Connection, query: sa.Select[Any]) -> Iterator[Sequence[sa.Row[Any]]]:
    with connection.execute(query, execution_options={"yield_per": _ROWS_AT_ONCE}) as rows:
        yield from rows.partitions()


def _part(rows: Sequence[sa.Row[Any]], task_names: dict[str, int]) -> tuple[npt.NDArray[Any], ...]:
    """Columns of some rows; a task not met yet gets the next number."""
    units, tasks, from_days, to_days, done = zip(*rows, strict=True) if rows else ((),) * 5
    for task in set(tasks) - task_names.keys():
        task_names[task] = len(task_names)
    return (
        np.array(units, np.int64),
        np.array([task_names[task] for task in tasks], np.int32),
        np.array(from_days, np.int32),
        np.array(to_days, np.int32),
        np.array(done, np.bool_),
    )
