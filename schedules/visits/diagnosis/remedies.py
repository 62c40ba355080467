"""Which change lets a need be served by a trip of its own? The mildest kind that helps.

Kinds from mild to hard: a wish is lifted, a night is allowed, a technician works another day, the
site opens, a day gets longer, another kind is served, a service is split, a limit is extended, a
technician is added. Of a kind the smallest; of equals the one whose trip costs least.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence

from schedules.visits.diagnosis.alone import alone_cents
from schedules.visits.diagnosis.mends import (
    AllowNights,
    ExtendLimit,
    LiftUnsuitable,
    LongerDay,
    Mend,
    MoreTechnicians,
    OpenSite,
    ServeKind,
    Several,
    SplitService,
    WorkOn,
    mended,
)
from schedules.visits.diagnosis.reasons import ideal, window
from schedules.visits.model import Order, Technician

__all__ = ["least_step", "like_whom", "remedy"]

Fits = Callable[[Order], int | None]
"""What the needs of an order cost, None where they cannot be served."""

LONGEST_DAY = 720
"""Twelve hours: no mend asks for a longer day; common practice, no source."""
_CATCH_UP = 28
_MOST_PARTS = 12


def remedy(order: Order) -> tuple[Mend | None, int | None]:
    """The mildest mend for an order of one need, or two together, and what the trip costs then."""
    for mends in _kinds(order, alone_cents):
        best = _cheapest(order, mends)
        if best is not None:
            return best
    for base in _bases(order):
        for mends in _kinds(mended(order, base), alone_cents):
            best = _cheapest(order, [Several((base, mend)) for mend in mends])
            if best is not None:
                return best
    return None, None


def least_step(fits: Callable[[int], bool], low: int, high: int) -> int | None:
    """The least number from low to high that fits, if all above one that fits do too."""
    if low > high or not fits(high):
        return None
    while low < high:
        middle = (low + high) // 2
        if fits(middle):
            high = middle
        else:
            low = middle + 1
    return low


def like_whom(order: Order) -> Technician | None:
    """Whom a further technician is like: one there is with the longest day, else a usual one."""
    if order.technicians:
        return max(order.technicians, key=lambda one: (one.day_minutes, one.max_nights))
    if not order.depots:
        return None
    return Technician(technician="", vendor="", depot=order.depots[0].depot, works_on=frozenset())


def _cheapest(order: Order, mends: Sequence[Mend]) -> tuple[Mend, int] | None:
    """Of mends of one size the one that helps and costs least; the first of equals."""
    tried = ((mend, alone_cents(mended(order, mend))) for mend in mends)
    helping = [(mend, cents) for mend, cents in tried if cents is not None]
    return min(helping, key=lambda pair: pair[1], default=None)


def _kinds(order: Order, fits: Fits) -> Iterator[list[Mend]]:
    """The mends of each kind, and of each size of it, from mild to hard."""
    yield _lifts(order)
    yield from _nights(order)
    yield from _work(order)
    yield _openings(order)
    yield _longer_days(order, fits)
    yield _kinds_served(order)
    for parts in range(2, _MOST_PARTS + 1):
        yield _split(order, parts)
    yield _extensions(order, fits)
    yield _more(order)


def _lifts(order: Order) -> list[Mend]:
    need = order.needs[0]
    return [LiftUnsuitable(need.name, on) for on in window(order, need) if on in need.closed_on]


def _nights(order: Order) -> Iterator[list[Mend]]:
    for nights in range(1, 7):
        yield [
            AllowNights(one.technician, nights)
            for one in order.technicians
            if one.max_nights < nights
        ]


def _work(order: Order) -> Iterator[list[Mend]]:
    """Further working days round each day of the window, few before many."""
    need = order.needs[0]
    mends = []
    for one in order.technicians:
        if not one.day_minutes or need.minutes > one.day_minutes:
            continue
        trip = ideal(order, need, one)
        before = (trip.there_minutes + need.minutes - 1) // one.day_minutes
        for on in window(order, need) if trip.days <= 7 else ():
            first = on - dt.timedelta(days=max(0, before))
            days = [first + dt.timedelta(days=n) for n in range(trip.days)]
            missing = tuple(day for day in days if day not in one.works_on)
            inside = order.from_on <= days[0] and days[-1] <= order.to_on
            if missing and inside and days[0].isocalendar()[:2] == days[-1].isocalendar()[:2]:
                mends.append(WorkOn(one.technician, missing))
    for weekend in (False, True):
        for count in range(1, 8):
            yield [
                mend
                for mend in mends
                if len(mend.days) == count and any(on.weekday() > 4 for on in mend.days) is weekend
            ]


def _openings(order: Order) -> list[Mend]:
    need, stand = order.needs[0], order.stands[0]
    return [
        OpenSite(stand.site, on)
        for on in window(order, need)
        if on not in stand.open_on and on not in need.closed_on
    ]


def _longer_days(order: Order, fits: Fits) -> list[Mend]:
    mends: list[Mend] = []
    for one in order.technicians:

        def helps(minutes: int, name: str = one.technician) -> bool:
            return fits(mended(order, LongerDay(name, minutes))) is not None

        minutes = least_step(helps, one.day_minutes + 1, LONGEST_DAY)
        if minutes is not None:
            mends.append(LongerDay(one.technician, minutes))
    return mends


def _kinds_served(order: Order) -> list[Mend]:
    kind = order.needs[0].kind
    return [
        ServeKind(one.technician, kind)
        for one in order.technicians
        if one.kinds is not None and kind not in one.kinds
    ]


def _split(order: Order, parts: int) -> list[Mend]:
    need = order.needs[0]
    return [SplitService(need.name, parts)] if need.minutes >= parts else []


def _extensions(order: Order, fits: Fits) -> list[Mend]:
    need = order.needs[0]
    first = max(need.limit_on, order.from_on - dt.timedelta(days=1))

    def later(days: int) -> ExtendLimit:
        return ExtendLimit(need.name, first + dt.timedelta(days=days))

    days = least_step(
        lambda days: fits(mended(order, later(days))) is not None,
        1,
        (order.to_on - first).days,
    )
    return [] if days is None else [later(days)]


def _more(order: Order) -> list[Mend]:
    """A further technician for the weeks of the window, on the site's open days, else weekdays."""
    like, days = like_whom(order), window(order, order.needs[0])
    if like is None or not days:
        return []
    first = max(order.from_on, days[0] - dt.timedelta(days=days[0].weekday()))
    last = min(order.to_on, days[-1] + dt.timedelta(days=6 - days[-1].weekday()))
    span = [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
    weekdays = tuple(on for on in span if on.weekday() < 5)
    depots = dict.fromkeys([like.depot, *(one.depot for one in order.depots)])
    return [MoreTechnicians(_at(like, depot), 1, weekdays) for depot in depots if weekdays]


def _at(like: Technician, depot: str) -> Technician:
    """Another technician's days, length and nights, from a depot."""
    return Technician(
        technician=like.technician,
        vendor=like.vendor,
        depot=depot,
        works_on=like.works_on,
        day_minutes=like.day_minutes,
        begins_at=like.begins_at,
        max_nights=like.max_nights,
    )


def _bases(order: Order) -> Iterator[Mend]:
    """Changes that another one may be added to."""
    need = order.needs[0]
    late = min(order.to_on, max(need.limit_on, order.from_on) + dt.timedelta(days=_CATCH_UP))
    if late > need.limit_on:
        yield ExtendLimit(need.name, late)
    yield from _kinds_served(order)
    yield from _more(order)
    for one in order.technicians:
        yield AllowNights(one.technician, max(one.max_nights, 4))
    if need.minutes > max((one.day_minutes for one in order.technicians), default=0):
        yield from _split(order, 2)
        yield from _split(order, 4)
