"""Which changes of an order mend it? Each a value that says itself in words and can be made."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from schedules.visits.diagnosis.dates_in_words import days_in_words, in_words
from schedules.visits.model import Lock, Need, Order, Technician, Trip
from schedules.visits.problem import Problem

__all__ = [
    "AllowNights",
    "ExtendLimit",
    "LiftUnsuitable",
    "LongerDay",
    "Mend",
    "MoreTechnicians",
    "OpenSite",
    "OpenTrip",
    "ServeKind",
    "Several",
    "SplitService",
    "WorkOn",
    "mended",
    "mended_problem",
]


@dataclass(frozen=True, slots=True)
class OpenSite:
    """The site opens on a day."""

    site: str
    on: dt.date

    @property
    def words(self) -> str:
        """As an order to a person."""
        return f"open {self.site} on {in_words(self.on)}"


@dataclass(frozen=True, slots=True)
class LiftUnsuitable:
    """A day that did not suit a need does."""

    need: str
    on: dt.date

    @property
    def words(self) -> str:
        """As an order to a person."""
        return f"let {in_words(self.on)} suit for unit {_unit(self.need)}"


@dataclass(frozen=True, slots=True)
class ExtendLimit:
    """A need may be served until a day."""

    need: str
    limit_on: dt.date

    @property
    def words(self) -> str:
        """As an order to a person."""
        return f"extend the limit of unit {_unit(self.need)} to {in_words(self.limit_on)}"


@dataclass(frozen=True, slots=True)
class AllowNights:
    """A technician may be away for so many nights in one trip."""

    technician: str
    nights: int

    @property
    def words(self) -> str:
        """As an order to a person."""
        nights = "night" if self.nights == 1 else "nights"
        return f"allow {self.technician} {self.nights} {nights} away"


@dataclass(frozen=True, slots=True)
class LongerDay:
    """A technician's day is so many minutes long."""

    technician: str
    minutes: int

    @property
    def words(self) -> str:
        """As an order to a person."""
        return f"give {self.technician} a day of {self.minutes} minutes"


@dataclass(frozen=True, slots=True)
class SplitService:
    """A need is served in parts, each a service of its own; its minutes are shared out."""

    need: str
    parts: int

    @property
    def words(self) -> str:
        """As an order to a person."""
        return f"split the service of unit {_unit(self.need)} into {self.parts} parts"


@dataclass(frozen=True, slots=True)
class ServeKind:
    """A technician may serve a kind of unit too."""

    technician: str
    kind: str

    @property
    def words(self) -> str:
        """As an order to a person."""
        return f"let {self.technician} serve the kind {self.kind}"


@dataclass(frozen=True, slots=True)
class WorkOn:
    """A technician works on further days."""

    technician: str
    days: tuple[dt.date, ...]

    @property
    def words(self) -> str:
        """As an order to a person."""
        return f"let {self.technician} work on {days_in_words(self.days)}"


@dataclass(frozen=True, slots=True)
class MoreTechnicians:
    """So many further technicians, like one there is, who serve all kinds and work on days."""

    like: Technician
    count: int
    days: tuple[dt.date, ...]

    @property
    def words(self) -> str:
        """As an order to a person."""
        who = "technician" if self.count == 1 else "technicians"
        span = f"{in_words(self.days[0])} to {in_words(self.days[-1])}"
        return f"plan {self.count} more {who} from {self.like.depot}, {span}"


@dataclass(frozen=True, slots=True)
class OpenTrip:
    """A confirmed trip may be added to."""

    trip: Trip

    @property
    def words(self) -> str:
        """As an order to a person."""
        return f"open {self.trip.technician}'s confirmed trip of {in_words(self.trip.start_on)}"


@dataclass(frozen=True, slots=True)
class Several:
    """Changes that only help together."""

    mends: tuple[Mend, ...]

    @property
    def words(self) -> str:
        """As an order to a person."""
        return " and ".join(mend.words for mend in self.mends)


Mend = (
    OpenSite
    | LiftUnsuitable
    | ExtendLimit
    | AllowNights
    | LongerDay
    | SplitService
    | ServeKind
    | WorkOn
    | MoreTechnicians
    | OpenTrip
    | Several
)


def mended(order: Order, mend: Mend) -> Order:
    """The order with a mend made; a trip that is opened leaves the order as it is."""
    match mend:
        case Several(mends):
            for one in mends:
                order = mended(order, one)
            return order
        case OpenTrip():
            return order
        case OpenSite(site, on):
            return replace(
                order,
                stands=tuple(
                    replace(one, open_on=one.open_on | {on}) if one.site == site else one
                    for one in order.stands
                ),
            )
        case LiftUnsuitable(need, on):
            return _with_need(
                order, need, lambda one: [replace(one, closed_on=one.closed_on - {on})]
            )
        case ExtendLimit(need, limit_on):
            return _with_need(order, need, lambda one: [replace(one, limit_on=limit_on)])
        case SplitService(need, parts):
            return _with_need(order, need, lambda one: _parts(one, parts))
        case _:
            return _with_technicians(order, mend)


def _with_technicians(
    order: Order, mend: AllowNights | LongerDay | ServeKind | WorkOn | MoreTechnicians
) -> Order:
    match mend:
        case MoreTechnicians(like, count, days):
            taken = {one.technician for one in order.technicians}
            free = (f"further {n}" for n in range(1, len(taken) + count + 1))
            names = [name for name in free if name not in taken][:count]
            further = [
                replace(like, technician=name, works_on=frozenset(days), kinds=None)
                for name in names
            ]
            return replace(order, technicians=(*order.technicians, *further))
        case AllowNights(name, nights):
            return _with_technician(order, name, lambda one: replace(one, max_nights=nights))
        case LongerDay(name, minutes):
            return _with_technician(order, name, lambda one: replace(one, day_minutes=minutes))
        case ServeKind(name, kind):
            return _with_technician(
                order,
                name,
                lambda one: replace(one, kinds=None if one.kinds is None else one.kinds | {kind}),
            )
        case WorkOn(name, days):
            return _with_technician(
                order, name, lambda one: replace(one, works_on=one.works_on | set(days))
            )


def mended_problem(problem: Problem, mend: Mend) -> Problem:
    """The problem with a mend made, also of what was told before."""
    lock = problem.lock
    for one in mend.mends if isinstance(mend, Several) else (mend,):
        if isinstance(one, OpenTrip):
            confirmed = tuple(trip for trip in lock.confirmed if trip != one.trip)
            lock = Lock(confirmed=confirmed, announced=lock.announced)
    return Problem(mended(problem.order, mend), lock)


def _with_need(order: Order, name: str, change: Callable[[Need], Iterable[Need]]) -> Order:
    needs = (change(one) if one.name == name else [one] for one in order.needs)
    return replace(order, needs=tuple(one for some in needs for one in some))


def _with_technician(order: Order, name: str, change: Callable[[Technician], Technician]) -> Order:
    changed = (change(one) if one.technician == name else one for one in order.technicians)
    return replace(order, technicians=tuple(changed))


def _parts(need: Need, parts: int) -> list[Need]:
    return [
        replace(
            need,
            task=f"{need.task} ({number + 1} of {parts})",
            minutes=need.minutes // parts + (number < need.minutes % parts),
            fee=need.fee if number == 0 else 0,
        )
        for number in range(parts)
    ]


def _unit(need: str) -> str:
    return need.rsplit("/", 2)[0]
