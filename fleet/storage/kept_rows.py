"""What is kept of the marked days, so that a question about today need not read every entry?"""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa

from fleet.services.ports import KeptYears
from fleet.storage.bulk import Cell, chunks, driver_columns, insert_rows
from fleet.storage.schema import marked_year

__all__ = ["read_kept", "replace_kept"]

_COLUMNS = ("unit_id", "task", "year", "marked", "done", "extra")


def read_kept(connection: sa.Connection) -> KeptYears:
    """All marked days that are kept."""
    query = sa.select(*(marked_year.c[name] for name in _COLUMNS))
    return KeptYears(*driver_columns(connection, query, len(_COLUMNS)))


def replace_kept(connection: sa.Connection, unit_ids: Sequence[int], years: KeptYears) -> None:
    """Put `years` in the place of what is kept of these units."""
    for chunk in chunks(unit_ids):
        connection.execute(sa.delete(marked_year).where(marked_year.c.unit_id.in_(chunk)))
    columns = (years.unit_ids, years.tasks, years.years, years.marked, years.done, years.extra)
    rows: list[tuple[Cell, ...]] = list(zip(*columns, strict=True))
    insert_rows(connection, marked_year, _COLUMNS, rows)
