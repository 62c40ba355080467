"""What does the full status of two million rows cost beside reading and writing them once?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from schedules.due import DueColumns, DueRows, due
from tests.studies.speed.interleaved import Floor, Ratio, milliseconds
from tests.studies.speed.invented import ON, Fleet, fleet

__all__ = ["ratios"]

_IN = ("rule", "unit", "base", "steps", "last", "event")
_OUT = (
    "state",
    "nominal",
    "opens",
    "due",
    "limit",
    "days_past_due",
    "open_days_past_due",
    "missed",
)
Columns = Sequence[npt.NDArray[np.generic]]


def _columns(of: DueRows | DueColumns, names: Sequence[str]) -> Columns:
    return [getattr(of, name) for name in names]


def _copy(columns: Columns, into: Columns) -> None:
    for column, room in zip(columns, into, strict=True):
        np.copyto(room, column)


def _answered(of: Fleet) -> DueColumns:
    return due(of.rules, of.rows, of.units, of.index, ON)


def ratios(rows: int = 2_000_000, sites: int = 120, turns: int = 7) -> list[Ratio]:
    """Measure 48 rules and 4,800, and a copy of all columns in and out."""
    few, many = fleet(rows, sites, 6), fleet(rows, sites, 600)
    answers = _answered(few)
    assert not answers.failures
    columns = [*_columns(few.rows, _IN), *_columns(answers, _OUT)]
    room = [np.ones_like(column) for column in columns]
    took = milliseconds(
        {
            "copy": lambda: _copy(columns, room),
            "48 rules": lambda: _answered(few),
            "4,800 rules": lambda: _answered(many),
        },
        turns,
    )
    size = f"{len(few.rows):,} rows, {sites} calendars"
    return [
        Ratio(
            f"full status, {size}, 48 rules / copying the columns in and out once",
            took["48 rules"] / took["copy"],
            Floor(12, 20, most=True),
        ),
        Ratio(
            f"full status, {size}, 4,800 rules / 48 rules",
            took["4,800 rules"] / took["48 rules"],
            Floor(1.5, 3, most=True),
        ),
    ]
