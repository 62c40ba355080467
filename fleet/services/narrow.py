"""Are the names by which a question is narrowed names that the fleet has?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches
from itertools import chain

from fleet.domain.numbers import present_numbers
from fleet.domain.records import Site, Unit
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault
from fleet.services.columns import book_of
from fleet.services.ports import Record
from fleet.services.questions import Narrow
from schedules.units import STATES

__all__ = [
    "check_names",
    "lets_through",
    "numbers_now",
    "units_let_through",
    "unknown_numbers",
]

_NAMES_SHOWN = 7
_NEAR = 0.75
"""How much alike two names are, of 1, before the one is taken for a slip of the other."""


def check_names(record: Record, narrow: Narrow) -> None:
    """Refuse names that no row could have, each with the nearest one (BadInput)."""
    if narrow == Narrow():
        return
    register = record.register()
    sites, book = register.sites.values(), book_of(register)
    rules = chain.from_iterable(kind.rules for kind in book.kinds.values())
    faults = (
        *_unknown("site", narrow.sites, (site.site for site in sites)),
        *_unknown("county", narrow.counties, (site.county for site in sites)),
        *_unknown("region", narrow.regions, (site.region for site in sites)),
        *_unknown("kind", narrow.kinds, book.kinds),
        *_unknown("task", narrow.tasks, (rule.task for rule in rules)),
        *_unknown("status", narrow.states, STATES),
    )
    if faults:
        raise BadInput(faults)


def lets_through(narrow: Narrow, site: Site) -> bool:
    """Say whether a question is about a site, by its name, county and region without case."""
    asked = (
        (narrow.sites, site.site),
        (narrow.counties, site.county),
        (narrow.regions, site.region),
    )
    return all(
        not words or name.casefold() in {word.casefold() for word in words} for words, name in asked
    )


def units_let_through(register: Register, narrow: Narrow) -> list[Unit]:
    """The units that ever stand at a site that a question is about; kinds narrow too."""
    sites = {site.site for site in register.sites.values() if lets_through(narrow, site)}
    kinds = {kind.casefold() for kind in narrow.kinds}
    moved = {move.property_number for move in register.placements.values() if move.site in sites}
    return [
        unit
        for unit in register.units.values()
        if (unit.site in sites or unit.property_number in moved)
        if not kinds or unit.kind.casefold() in kinds
    ]


def numbers_now(register: Register, numbers: Sequence[str]) -> list[str]:
    """The property numbers that units bear now; BadInput for one that no unit ever bore."""
    if faults := list(unknown_numbers(register, numbers)):
        raise BadInput(faults)
    present = present_numbers(register.renumberings.values())
    return [present.get(number, number) for number in numbers]


def unknown_numbers(register: Register, numbers: Iterable[str]) -> Iterator[Fault]:
    """A fault, with the nearest, for each property number that no unit bears or bore."""
    present = present_numbers(register.renumberings.values())
    known = [number for (number,) in register.units]
    by_folded = {number.casefold(): number for number in (*present, *known)}
    for number in numbers:
        if (present.get(number, number),) not in register.units:
            mend = _mend("unit", number.casefold(), by_folded)
            yield Fault("PROPERTY_NUMBER", None, None, f"no unit '{number}'", mend)


def _unknown(what: str, names: Iterable[str], known: Iterable[str]) -> Iterator[Fault]:
    """A fault for each name that is not known, compared without case."""
    by_folded = {name.casefold(): name for name in known}
    for name in names:
        if name.casefold() not in by_folded:
            mend = _mend(what, name.casefold(), by_folded)
            yield Fault(f"--{what}", None, None, f"no {what} '{name}'", mend)


def _mend(what: str, folded: str, by_folded: dict[str, str]) -> str:
    if near := get_close_matches(folded, by_folded, n=1, cutoff=_NEAR):
        return f"did you mean '{by_folded[near[0]]}'?"
    if not by_folded:
        return f"there is no {what} yet; load some files first"
    names = sorted(by_folded.values())
    some = "they are" if len(names) <= _NAMES_SHOWN else "some are"
    return f"{some} {', '.join(names[:_NAMES_SHOWN])}"
