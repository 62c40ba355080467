"""How is the snapshot of public holidays kept? A line a place and year, dated, never changed."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable

import sqlalchemy as sa

from fleet.services.ports import HolidayYear, Stamp
from fleet.storage.canonical import canonical_json
from fleet.storage.chains import append_lines
from fleet.storage.schema import holiday_year

__all__ = ["add_holiday_years", "read_holiday_years"]


def read_holiday_years(connection: sa.Connection) -> list[HolidayYear]:
    """The snapshot; of a year that was looked up twice, the later."""
    rows = connection.execute(sa.select(holiday_year).order_by(holiday_year.c.seq))
    latest = {(row.country, row.subdivision, row.year): row for row in rows}
    return [
        HolidayYear(
            country=row.country,
            subdivision=row.subdivision,
            year=row.year,
            names={dt.date.fromisoformat(on): name for on, name in json.loads(row.names).items()},
            origin=row.origin,
        )
        for row in latest.values()
    ]


def add_holiday_years(
    connection: sa.Connection, years: Iterable[HolidayYear], stamp: Stamp
) -> None:
    """Append years to the snapshot."""
    columns = ("country", "subdivision", "year", "names", "origin")
    lines: list[tuple[str | int, ...]] = []
    for year in years:
        names = canonical_json({on.isoformat(): name for on, name in year.names.items()})
        lines.append((year.country, year.subdivision, year.year, names, year.origin))
    append_lines(connection, holiday_year, columns, lines, stamp)
