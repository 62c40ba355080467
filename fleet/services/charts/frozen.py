"""How is what a chart said frozen with its print, and read back?

    days    the signs of `YearChart.days`, one a day of the year
    cells   the signs of the faces of each row, from top to bottom; rows apart by a blank, so that
            boxes of the head, which have none and come last, are blanks at the end
    rows    a JSON list, an object a row: role, task, title, each, turn, times, versions

The JSON is canonical: keys in the order of the alphabet, nothing between them. A version of a rule
is an object with what is printed of it or decides on a cell. Of the cautions stands the SHA-256 in
hex of their lines, '' where there are none. What is at its default is left out, so fields may be
added later.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any, NamedTuple

from fleet.domain.prints import Print
from fleet.errors import BadPrint
from fleet.services.charts.facts import ChartRow, RowRole
from fleet.services.charts.rows import RowPlan
from schedules.rules import Each, First, Roll, Rule

__all__ = [
    "FrozenRow",
    "FrozenRule",
    "RowKey",
    "cells_of",
    "frozen_cells",
    "frozen_row",
    "frozen_rows",
    "row_key",
    "rows_of",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenRule:
    """What a version of a rule said when it was printed; dates and numbers as in `Rule`."""

    from_on: dt.date | None = None
    until_on: dt.date | None = None
    title: str
    each: Each | None = None
    every: str | None = None
    """The interval, as ISO 8601 writes it."""
    anchor_on: dt.date | None = None
    early: int = 0
    grace: int = 0
    roll: str = Roll.FOLLOWING.value
    keep_anchor: int = 0
    due_after: tuple[str, ...] = ()
    first: str = First.AFTER_INTERVAL.value
    times: int = 1
    range: tuple[str | None, str | None, str] | None = None
    """Low, high and unit of a reading."""
    for_model: bool = False
    """It is made for some models, and so wins over one for every model."""
    cautions: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenRow:
    """A row as it was printed, without its cells."""

    role: RowRole
    task: str
    title: str
    each: Each | None = None
    turn: int = 1
    times: int = 1
    versions: tuple[FrozenRule, ...] = ()


class RowKey(NamedTuple):
    """What tells a row of a chart from its others."""

    role: RowRole
    task: str
    each: Each | None
    turn: int


def row_key(row: ChartRow | FrozenRow | RowPlan) -> RowKey:
    """The key of a row, printed or not."""
    return RowKey(row.role, row.task, row.each, row.turn)


def frozen_rows(rows: Iterable[ChartRow | RowPlan]) -> str:
    """The rows of a chart, or what they would be, as JSON."""
    told = [_told(frozen_row(row)) for row in rows]
    return json.dumps(
        told, ensure_ascii=False, sort_keys=True, separators=(",", ":"), default=dt.date.isoformat
    )


def _told(frozen: FrozenRow | FrozenRule) -> dict[str, Any]:
    """What is not at its default."""
    values = {field.name: (getattr(frozen, field.name), field.default) for field in fields(frozen)}
    told = {name: value for name, (value, default) in values.items() if value != default}
    if isinstance(frozen, FrozenRow) and frozen.versions:
        told["versions"] = [_told(version) for version in frozen.versions]
    return told


def frozen_cells(rows: Iterable[ChartRow]) -> str:
    """The signs of a chart's cells, rows apart by a blank."""
    return " ".join("".join(face.sign for face in row.faces) for row in rows)


def frozen_row(row: ChartRow | RowPlan) -> FrozenRow:
    """What is frozen of a row, but for its cells."""
    return FrozenRow(
        role=row.role,
        task=row.task,
        title=row.title,
        each=row.each,
        turn=row.turn,
        times=row.times,
        versions=tuple(_frozen_rule(rule) for rule in row.versions),
    )


def _frozen_rule(rule: Rule) -> FrozenRule:
    low_high = rule.range and (_number(rule.range.low), _number(rule.range.high), rule.range.unit)
    return FrozenRule(
        from_on=rule.from_on,
        until_on=rule.until_on,
        title=rule.title,
        each=rule.each,
        every=rule.every.text if rule.every else None,
        anchor_on=rule.anchor_on,
        early=rule.early,
        grace=rule.grace,
        roll=rule.roll.value,
        keep_anchor=rule.keep_anchor,
        due_after=tuple(sorted(rule.due_after)),
        first=rule.first.value,
        times=rule.times,
        range=low_high or None,
        for_model=bool(rule.models),
        cautions=_hash(rule.cautions),
    )


def _number(limit: object) -> str | None:
    return None if limit is None else str(limit)


def _hash(cautions: tuple[str, ...]) -> str:
    return hashlib.sha256("\n".join(cautions).encode()).hexdigest() if cautions else ""


def rows_of(print_: Print) -> tuple[FrozenRow, ...]:
    """The rows of a print, from top to bottom; BadPrint where its text is no list of rows."""
    try:
        return _read(print_.rows)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise BadPrint(print_.number) from error


def cells_of(print_: Print) -> tuple[str, ...]:
    """The signs of each row's cells, in the order of `rows_of`; '' for a box of the head.

    BadPrint as in `rows_of`.
    """
    return tuple(print_.cells.split(" ")) if rows_of(print_) else ()


@lru_cache(maxsize=256)
def _read(text: str) -> tuple[FrozenRow, ...]:
    told = json.loads(text)
    if not isinstance(told, list):
        raise TypeError(type(told))
    return tuple(_row(row) for row in told)


def _row(told: dict[str, Any]) -> FrozenRow:
    versions = tuple(_rule(version) for version in told.get("versions", ()))
    read = {"role": RowRole(told["role"]), "each": _each(told.get("each")), "versions": versions}
    return FrozenRow(**{**_known(FrozenRow, told), **read})


def _known(kind: type[FrozenRow | FrozenRule], told: dict[str, Any]) -> dict[str, Any]:
    """What this version knows of an object; what came later is passed over."""
    return {field.name: told[field.name] for field in fields(kind) if field.name in told}


def _rule(told: dict[str, Any]) -> FrozenRule:
    read = {
        "each": _each(told.get("each")),
        "due_after": tuple(told.get("due_after", ())),
        "range": tuple(told["range"]) if "range" in told else None,
        **{name: _date(told.get(name)) for name in ("from_on", "until_on", "anchor_on")},
    }
    return FrozenRule(**{**_known(FrozenRule, told), **read})


def _each(text: str | None) -> Each | None:
    return Each(text) if text else None


def _date(text: str | None) -> dt.date | None:
    return dt.date.fromisoformat(text) if text else None
