"""Which property number does a unit bear now that has been renumbered?

Here `numbers` is a mapping of numbers to those that stand in their place; others stay.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from typing import Any, TypeVar

from fleet.domain.evidence import Action, Extension, Renumbering, ServiceReport
from fleet.domain.prints import Print
from fleet.domain.records import Entry, Outage, Placement, Unit
from fleet.domain.register import Register

__all__ = [
    "formers_of",
    "present_numbers",
    "renumbered",
    "renumbered_keys",
    "renumbered_register",
]

_Record = TypeVar("_Record", bound=Any)
_KEYED = (Unit, Placement, Outage, Extension, ServiceReport)
"""The classes whose keys begin with the property number."""
_OF_UNIT = (*_KEYED, Action, Print, Entry)


def present_numbers(renumberings: Iterable[Renumbering]) -> dict[str, str]:
    """Every number that was ever given up or taken, and the one its unit bears now.

    A number is given up for one other; a unit that came back to an earlier number bears what it
    took last.
    """
    taken = {one.former: one for one in renumberings}
    numbers = dict.fromkeys(n for one in taken.values() for n in (one.former, one.property_number))
    return {number: _present(taken, number) for number in numbers}


def _present(taken: Mapping[str, Renumbering], number: str) -> str:
    met: list[str] = []
    while number in taken and number not in met:
        met.append(number)
        number = taken[number].property_number
    if number not in taken:
        return number
    ring = [taken[former] for former in met[met.index(number) :]]
    return max(ring, key=_from_on).property_number


def _from_on(renumbering: Renumbering) -> dt.date:
    return renumbering.from_on


def formers_of(renumberings: Iterable[Renumbering], number: str) -> list[str]:
    """The other numbers of the unit that bears `number` now, in the order of the alphabet."""
    present = present_numbers(renumberings)
    return sorted(other for other, now in present.items() if now == number and other != number)


def renumbered(record: _Record, numbers: Mapping[str, str]) -> _Record:
    """A record or entry under another number; what is of no unit, and a renumbering, stay."""
    if not isinstance(record, _OF_UNIT):
        return record
    number = numbers.get(record.property_number, record.property_number)
    return record if number == record.property_number else replace(record, property_number=number)


def renumbered_keys(
    kind: type[Any], keys: Iterable[tuple[str, ...]], numbers: Mapping[str, str]
) -> frozenset[tuple[str, ...]]:
    """Keys of the records of a class under other numbers."""
    if kind not in _KEYED:
        return frozenset(keys)
    return frozenset((numbers.get(key[0], key[0]), *key[1:]) for key in keys)


def renumbered_register(register: Register, numbers: Mapping[str, str]) -> Register:
    """A register with its units under other numbers; its renumberings stay."""
    if not numbers:
        return register
    tables: dict[str, Any] = {}
    for field in fields(Register):
        if field.name not in ("book", "renumberings"):
            records = getattr(register, field.name).values()
            tables[field.name] = {
                shown.key: shown for shown in (renumbered(one, numbers) for one in records)
            }
    return replace(register, **tables)
