"""At which site does a unit stand on which days, and from when to when has it charts?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter

from fleet.domain.records import Placement, Unit
from fleet.domain.register import Register

__all__ = ["Span", "Stay", "charted", "common", "moves_of", "site_on", "stays"]

Span = tuple[dt.date, dt.date]
"""A first and a last day, both included."""
_ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Stay:
    """Days at one site, both ends included."""

    site: str
    from_on: dt.date
    to_on: dt.date


def moves_of(register: Register) -> Mapping[str, Sequence[Placement]]:
    """Each unit's moves, the earliest first, by property number."""
    moves: dict[str, list[Placement]] = defaultdict(list)
    for move in sorted(register.placements.values(), key=attrgetter("from_on")):
        moves[move.property_number].append(move)
    return moves


def stays(unit: Unit, moves: Iterable[Placement]) -> Iterator[Stay]:
    """Where a unit stands on every day there is: before its first move at the unit's own site.

    moves: its own, the earliest first.
    """
    site, since_on = unit.site, dt.date.min
    for move in moves:
        if move.from_on > since_on:
            yield Stay(site, since_on, move.from_on - _ONE_DAY)
        site, since_on = move.site, move.from_on
    yield Stay(site, since_on, dt.date.max)


def site_on(unit: Unit, moves: Iterable[Placement], on: dt.date) -> str:
    """The site where a unit stands on a day."""
    return next(stay.site for stay in stays(unit, moves) if stay.from_on <= on <= stay.to_on)


def charted(unit: Unit) -> Span | None:
    """The days for which a unit may have charts: in service, and of the record; None for none."""
    begins_on = max(unit.in_service_on, unit.record_from_on or unit.in_service_on)
    ends_on = unit.retired_on - _ONE_DAY if unit.retired_on else dt.date.max
    return (begins_on, ends_on) if begins_on <= ends_on else None


def common(*spans: Span | None) -> Span | None:
    """The days that all spans hold; None where there is none."""
    if any(span is None for span in spans):
        return None
    told = [span for span in spans if span is not None]
    from_on, to_on = max(span[0] for span in told), min(span[1] for span in told)
    return (from_on, to_on) if from_on <= to_on else None
