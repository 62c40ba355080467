"""How does a kept plan stand in its file? As JSON: what it was asked from, and its trips as told.

The file is written once and read for years: `version` says how it is to be read.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, is_dataclass
from functools import cache
from typing import Any, get_args, get_origin, get_type_hints

from fleet.services.questions import Narrow
from schedules.visits.told import ToldPlan

__all__ = ["PlanContent", "read_plan", "write_plan"]

_VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanContent:
    """All that a plan is made from and says.

    sources: the files it was asked with, the plan file first, names to texts; time_zones: of the
    depots, begins_at: of the technicians' days, both by name.
    """

    from_on: dt.date
    to_on: dt.date
    narrow: Narrow
    seed: int
    iterations: int
    versions: Mapping[str, str]
    sources: Mapping[str, str]
    time_zones: Mapping[str, str]
    begins_at: Mapping[str, dt.time]
    notes: Sequence[str] = field(default=())
    told: ToldPlan


def write_plan(content: PlanContent) -> bytes:
    """The file of a plan: the same content gives the same bytes."""
    said = {"version": _VERSION, **asdict(content)}
    text = json.dumps(said, ensure_ascii=False, default=_iso, sort_keys=False, indent=None)
    return f"{text}\n".encode()


def _iso(value: dt.date | dt.time) -> str:
    return value.isoformat()


def read_plan(content: bytes) -> PlanContent:
    """The content of a plan's file; ValueError, TypeError or LookupError for another file."""
    said = json.loads(content)
    version = said.pop("version")
    if version != _VERSION:
        raise ValueError(f"a plan's file of version {version}, not {_VERSION}")
    found: PlanContent = _read(PlanContent, said)
    return found


def _read(kind: Any, value: Any) -> Any:  # noqa: ANN401 - any class of a plan's content
    """A value of a class, from what JSON made of it."""
    if isinstance(kind, type) and is_dataclass(kind):
        hints = _hints(kind)
        return kind(**{name: _read(hints[name], value[name]) for name in hints})
    if kind is dt.date or kind is dt.time:
        return kind.fromisoformat(value)
    parts = get_args(kind)
    if get_origin(kind) is tuple:
        return tuple(_read(parts[0], one) for one in value)
    if get_origin(kind) is Mapping or get_origin(kind) is _MAPPING:
        return {name: _read(parts[1], one) for name, one in value.items()}
    if get_origin(kind) is _SEQUENCE:
        return tuple(value)
    return value


_MAPPING, _SEQUENCE = get_origin(Mapping[str, str]), get_origin(Sequence[str])


@cache
def _hints(kind: Any) -> Mapping[str, Any]:  # noqa: ANN401 - as above
    hints = get_type_hints(kind)
    return {one.name: hints[one.name] for one in fields(kind) if one.init}
