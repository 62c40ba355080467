"""Of which kinds are some units of the fleet? Theirs are the procedure cards to print."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from fleet.domain.records import Unit
from fleet.domain.register import Register
from fleet.services.columns import book_of
from fleet.services.narrow import check_names, lets_through, numbers_now
from fleet.services.ports import Record
from fleet.services.questions import Narrow
from fleet.services.stays import moves_of, site_on

__all__ = ["kinds_of"]


def kinds_of(record: Record, numbers: Sequence[str], narrow: Narrow, on: dt.date) -> list[str]:
    """The kinds, in the order of the book, of the units in service on a day that are chosen.

    numbers: only these units; narrow: only of these kinds, and at these places on the day. Where
    nothing but kinds is named, it is those. BadInput for what is unknown.
    """
    check_names(record, narrow)
    register = record.register()
    wanted = numbers_now(register, numbers)
    book = list(book_of(register).kinds)
    asked = {kind.casefold() for kind in narrow.kinds}
    is_of_kinds = bool(asked) and not (numbers or narrow.sites or narrow.counties or narrow.regions)
    if is_of_kinds:
        return [kind for kind in book if kind.casefold() in asked]
    found = {unit.kind for unit in _units(register, wanted, narrow, on)}
    return [kind for kind in book if kind in found and (not asked or kind.casefold() in asked)]


def _units(
    register: Register, numbers: Sequence[str], narrow: Narrow, on: dt.date
) -> Iterator[Unit]:
    moves = moves_of(register)
    for unit in register.units.values():
        is_used = unit.in_service_on <= on < (unit.retired_on or dt.date.max)
        if not is_used or (numbers and unit.property_number not in numbers):
            continue
        place = site_on(unit, moves.get(unit.property_number, ()), on)
        if lets_through(narrow, register.sites[(place,)]):
            yield unit
