"""How does a register record stand in a change line? As one canonical JSON object, its fields.

Dates are ISO texts, roles their values, decimals the shortest text that reads back as the same
number: a JSON text here never holds a float.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from collections.abc import Callable
from functools import cache
from typing import Any, TypeVar, get_type_hints

from fleet.domain.evidence import Effect
from fleet.domain.records import RegisterRecord, Role
from fleet.domain.visits import VisitState
from fleet.storage.canonical import canonical_json
from schedules.visits.model import Grade

__all__ = ["WITHDRAWN", "from_json", "to_json"]

_Record = TypeVar("_Record", bound=RegisterRecord)


WITHDRAWN = "null"
"""What stands in a change line in the place of a record that is withdrawn: JSON's nothing."""


def to_json(record: RegisterRecord) -> str:
    """Write a record's fields as canonical JSON."""
    return canonical_json(
        {field.name: _plain(getattr(record, field.name)) for field in dataclasses.fields(record)}
    )


def from_json(kind: type[_Record], text: str) -> _Record:
    """Read a record of one class back; a field it was written without takes its default."""
    readers = _readers(kind)  # type: ignore[arg-type]
    values: dict[str, Any] = {
        name: value if value is None or name not in readers else readers[name](value)
        for name, value in json.loads(text).items()
    }
    return kind(**values)


def _plain(value: object) -> str | int | bool | None:
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, Role | Effect | Grade | VisitState):
        return value.value
    if value is None or isinstance(value, str | int):
        return value
    raise TypeError(f"a register record cannot hold {value!r}")


@cache
def _readers(kind: type[RegisterRecord]) -> dict[str, Callable[[Any], object]]:
    """The fields of a class whose JSON text has to be read back, and how."""
    known: dict[object, Callable[[Any], object]] = {
        dt.date: dt.date.fromisoformat,
        dt.date | None: dt.date.fromisoformat,
        float | None: float,
        Role: Role,
        Effect | None: Effect,
        Grade: Grade,
        VisitState: VisitState,
    }
    hints = get_type_hints(kind)
    names = [field.name for field in dataclasses.fields(kind)]
    return {name: known[hints[name]] for name in names if hints[name] in known}
