"""What is kept of the marked days, so that a question about today need not read every entry?"""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa

from fleet.services.ports import KeptYears
from fleet.storage.bulk import Cell, chunks, driver_columns, insert_rows
from fleet.storage.schema import kept_tick, marked_year

__all__ = ["read_kept", "read_ticks", "replace_kept"]

_COLUMNS = ("unit_id", "task", "year", "marked", "done", "extra")


def read_kept(connection: sa.Connection, unit_ids: Sequence[int] | None = None) -> KeptYears:
    """The marked days that are kept of some units (None: all)."""
    query = sa.select(*(marked_year.c[name] for name in _COLUMNS))
    if unit_ids is None:
        return KeptYears(*driver_columns(connection, query, len(_COLUMNS)))
    parts = [
        driver_columns(connection, query.where(marked_year.c.unit_id.in_(some)), len(_COLUMNS))
        for some in chunks(unit_ids)
    ]
    columns = zip(*parts, strict=True) if parts else ((),) * len(_COLUMNS)
    return KeptYears(*([cell for column in some for cell in column] for some in columns))


def read_ticks(connection: sa.Connection, tick: int) -> tuple[int, list[int]]:
    """The present tick, and the units of which what is kept was replaced after an earlier one."""
    last = connection.execute(sa.select(sa.func.max(kept_tick.c.tick))).scalar() or 0
    if last == tick:
        return last, []
    query = sa.select(kept_tick.c.unit_id).where(kept_tick.c.tick > tick)
    return last, list(connection.execute(query).scalars())


def replace_kept(connection: sa.Connection, unit_ids: Sequence[int], years: KeptYears) -> None:
    """Put `years` in the place of what is kept of these units."""
    for chunk in chunks(unit_ids):
        connection.execute(sa.delete(marked_year).where(marked_year.c.unit_id.in_(chunk)))
    columns = (years.unit_ids, years.tasks, years.years, years.marked, years.done, years.extra)
    rows: list[tuple[Cell, ...]] = list(zip(*columns, strict=True))
    insert_rows(connection, marked_year, _COLUMNS, rows)
    _move_on(connection, unit_ids)


def _move_on(connection: sa.Connection, unit_ids: Sequence[int]) -> None:
    """Give these units the next tick; only one transaction writes at a time."""
    last = connection.execute(sa.select(sa.func.max(kept_tick.c.tick))).scalar() or 0
    for chunk in chunks(unit_ids):
        connection.execute(sa.delete(kept_tick).where(kept_tick.c.unit_id.in_(chunk)))
    rows: list[tuple[Cell, ...]] = [(unit_id, last + 1) for unit_id in dict.fromkeys(unit_ids)]
    insert_rows(connection, kept_tick, ("unit_id", "tick"), rows)
