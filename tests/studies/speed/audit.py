"""How much sooner are the gaps of a year's charts found than by an anti-join in SQLite?

6,000 rows, a unit × task each, of an open-day rule over a year; one mark in twenty-five is missing.
Both ways must name the same cells. Building calendars and filling tables is not timed.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

import numpy as np

from schedules.calendars import CalendarIndex
from schedules.cells import gaps
from schedules.dates import FAR, Days, Mask, date_of
from schedules.marks import MarkedYears
from schedules.rules import Each, Rule
from schedules.units import Places, UnitColumns, UnitSpan
from tests.studies.speed.interleaved import Floor, Ratio, milliseconds
from tests.studies.speed.invented import ON, calendars

__all__ = ["ratios"]

DAYS = 365
_RULE = Rule(
    kind="kind", task="optics", title="Clean", source="common practice", each=Each.OPEN_DAY
)
_SCHEMA = """
    CREATE TABLE mark (row INTEGER, day INTEGER, PRIMARY KEY (row, day)) WITHOUT ROWID;
    CREATE TABLE row_of (row INTEGER PRIMARY KEY, calendar INTEGER, in_service INTEGER);
    CREATE TABLE open_day (calendar INTEGER, day INTEGER, PRIMARY KEY (calendar, day))
        WITHOUT ROWID;
"""
_ANTI_JOIN = """
    SELECT r.row, o.day FROM row_of r
    JOIN open_day o ON o.calendar = r.calendar AND o.day >= r.in_service
    WHERE NOT EXISTS (SELECT 1 FROM mark m WHERE m.row = r.row AND m.day = o.day)
"""


@dataclass(frozen=True, slots=True)
class Charts:
    """A year of charts: the units, their calendars, and the marks as rows and days."""

    units: UnitColumns
    index: CalendarIndex
    rows: Places
    days: Days
    is_done: Mask

    def packed(self) -> MarkedYears:
        """The marks as the years that are kept of them."""
        return MarkedYears.pack(self.rows, self.days, self.is_done)

    def missing(self, marks: MarkedYears) -> tuple[Places, Days]:
        """The gaps: row and day."""
        everyone = np.arange(len(self.units))
        span = (0, ON - DAYS, ON - 1, ON)
        found = list(gaps([_RULE], self.units, everyone, self.index, marks, *span))
        return (
            np.concatenate([some.rows for some in found]),
            np.concatenate([some.from_days for some in found]),
        )


def charts(rows: int, sites: int) -> Charts:
    """Units that were all but a tenth in service before the year, five in six days marked done."""
    random = np.random.default_rng(3)
    index = CalendarIndex(calendars(sites, 9, fewest=4), date_of(ON - DAYS), date_of(ON))
    site = random.integers(0, sites, size=rows)
    late = random.random(rows) < 0.1
    begins = np.where(late, ON - random.integers(1, DAYS, size=rows), ON - 2 * DAYS)
    units = UnitColumns.build(
        [
            UnitSpan(a, FAR, a, where)
            for a, where in zip(begins.tolist(), site.tolist(), strict=True)
        ]
    )
    expected = units.expected(index, np.arange(rows), ON - DAYS, DAYS)
    row, day = np.nonzero(expected & (random.random(expected.shape) >= 0.04))
    return Charts(
        units, index, row, (day + ON - DAYS).astype(np.int32), random.random(len(row)) < 0.83
    )


def database(of: Charts) -> sqlite3.Connection:
    """The same in SQLite, the marks under the key (row, day)."""
    made = sqlite3.connect(":memory:")
    made.executescript(_SCHEMA)
    marks = zip(of.rows.tolist(), of.days.tolist(), strict=True)
    made.executemany("INSERT INTO mark VALUES (?, ?)", marks)
    begins, site = of.units.in_service.tolist(), of.units.calendars.tolist()
    made.executemany(
        "INSERT INTO row_of VALUES (?, ?, ?)", zip(range(len(begins)), site, begins, strict=True)
    )
    days = np.arange(ON - DAYS, ON)
    for place in range(len(of.index.sites)):
        is_open = of.index.is_open.reshape(-1)[of.index.starts[place] + days]
        values = ((place, day) for day in days[is_open].tolist())
        made.executemany("INSERT INTO open_day VALUES (?, ?)", values)
    made.execute("ANALYZE")
    return made


def ratios(rows: int = 6_000, sites: int = 120) -> list[Ratio]:
    """Measure the anti-join, and the engine from kept years and from single marks."""
    of = charts(rows, sites)
    kept, made = of.packed(), database(of)
    row, day = of.missing(kept)
    assert sorted(made.execute(_ANTI_JOIN)) == list(zip(row.tolist(), day.tolist(), strict=True))
    took = milliseconds(
        {
            "SQLite": lambda: made.execute(_ANTI_JOIN).fetchall(),
            "kept": lambda: of.missing(kept),
            "single": lambda: of.missing(of.packed()),
        },
        7,
    )
    what = f"audit, {rows:,} rows, {len(of.rows):,} marks, {len(row):,} gaps: SQLite anti-join"
    return [
        Ratio(f"{what} / gaps from kept years", took["SQLite"] / took["kept"], Floor(100, 60)),
        Ratio(f"{what} / packing single marks, then gaps", took["SQLite"] / took["single"]),
    ]
