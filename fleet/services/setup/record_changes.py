"""What becomes of one record, field by field, in words that a person can compare?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from enum import StrEnum
from zoneinfo import ZoneInfo

from fleet.domain.records import RegisterRecord
from fleet.domain.register import Change, Register
from fleet.services.backdated import first_changed_on
from fleet.services.load_ports import REGISTER_TABLES
from schedules.rules import Interval, ReadingRange

__all__ = ["FieldChange", "RecordChange", "Sort", "field_changes", "field_words", "told_change"]

_TABLE_OF = {kind: table for table, kind in REGISTER_TABLES.items()}
_COLUMN_OF = {"from_on": "from", "to_on": "to", "record_from_on": "record_from"}
"""Fields whose column in a file is called otherwise (design 7)."""


class Sort(StrEnum):
    """What becomes of a record."""

    NEW = "new"
    CHANGED = "changed"
    GONE = "gone"


@dataclass(frozen=True, slots=True)
class FieldChange:
    """A field with what it holds before and after; '' for nothing."""

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class RecordChange:
    """A record that is new, changed or gone, named by the words of its key."""

    table: str
    name: str
    sort: Sort
    fields: Sequence[FieldChange] = ()
    """Those that differ; of a new record, all that are filled."""
    backdated_on: dt.date | None = None
    """The first day it changes, where that has passed: the audit reports it as backdated."""


def told_change(register: Register, change: Change, now: dt.datetime) -> RecordChange:
    """One step of the register; register: as it is before it."""
    sort = Sort.NEW if change.old is None else Sort.GONE if change.new is None else Sort.CHANGED
    return RecordChange(
        table=_TABLE_OF[type(change.record)],
        name=" ".join(part for part in change.record.key if part),
        sort=sort,
        fields=[] if sort is Sort.GONE else list(field_changes(change)),
        backdated_on=_backdated_on(register, change, now),
    )


def field_changes(change: Change) -> Iterator[FieldChange]:
    """The fields that differ, under the names of their columns."""
    for field in fields(change.record):
        before, after = (
            field_words(getattr(record, field.name, None)) for record in (change.old, change.new)
        )
        if before != after:
            yield FieldChange(_COLUMN_OF.get(field.name, field.name), before, after)


def _backdated_on(register: Register, change: Change, now: dt.datetime) -> dt.date | None:
    on = None if change.initial else first_changed_on(change)
    if on is None:
        return None
    return on if on < now.astimezone(ZoneInfo(_zone(register, change.record))).date() else None


def _zone(register: Register, record: RegisterRecord) -> str:
    """The time zone of the site that a record belongs to, itself or by its unit."""
    unit = register.units.get((getattr(record, "property_number", ""),))
    site = register.sites.get((getattr(record, "site", "") or (unit.site if unit else ""),))
    return site.time_zone if site else "UTC"


def field_words(value: object) -> str:
    """What a field holds, as a file or a rule book would have it; '' for nothing."""
    match value:
        case None | False:
            return ""
        case True:
            return "yes"
        case Interval():
            return value.text
        case ReadingRange():
            ends = (("", value.low), ("to ", value.high))
            return " ".join([*(f"{w}{end}" for w, end in ends if end is not None), value.unit])
        case tuple() | frozenset():
            return "; ".join(sorted(map(str, value)) if isinstance(value, frozenset) else value)
    return str(value)
