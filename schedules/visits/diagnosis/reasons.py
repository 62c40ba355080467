"""Why can no trip serve a need? The first reason that holds, with its numbers, in a sentence."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import NamedTuple

from schedules.visits.diagnosis.dates_in_words import days_in_words, in_words, span_in_words
from schedules.visits.diagnosis.findings import Code, Finding
from schedules.visits.model import Need, Order, Technician

__all__ = ["Ideal", "duration", "ideal", "reason", "unit_words", "window"]


class Ideal(NamedTuple):
    """A trip for one need alone if every day were worked and open."""

    technician: Technician
    there_minutes: int
    back_minutes: int
    days: int

    @property
    def nights(self) -> int:
        """How many nights away it takes."""
        return self.days - 1


def reason(order: Order, need: Need) -> Finding:
    """Why no trip can serve the need of an order; it has been proved that none can."""
    servers = [one for one in order.technicians if one.kinds is None or need.kind in one.kinds]
    if need.limit_on < order.from_on:
        return _past_limit(order, need)
    days = _open_days(order, need)
    if not days:
        return _no_open_day(order, need)
    if not servers:
        return _no_server(order, need)
    if need.minutes > max(one.day_minutes for one in servers):
        return _longer_than_day(need, servers)
    return _out_of_reach(order, need, servers, days)


def window(order: Order, need: Need) -> list[dt.date]:
    """All days of a need's window that lie in the order's span."""
    first, last = max(need.opens_on, order.from_on), min(need.limit_on, order.to_on)
    return [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]


def ideal(order: Order, need: Need, technician: Technician) -> Ideal:
    """How long a trip for the need alone takes; day_minutes > 0, minutes fit in a day."""
    places, length = order.places, max(1, technician.day_minutes)
    site, depot = places.index(need.site), places.index(technician.depot)
    there, back = order.minutes[depot][site], order.minutes[site][depot]
    at = there
    if at % length + need.minutes > length:
        at += length - at % length
    days = max(1, -(-(at + need.minutes + back) // length))
    return Ideal(technician, there, back, days)


def duration(minutes: int) -> str:
    """'9 h 47 min', '45 min', '8 h'."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def unit_words(need: Need) -> str:
    """'Unit 0001 (annual-service) at Alder'."""
    return f"Unit {need.property_number} ({need.task}) at {need.site}"


def _open_days(order: Order, need: Need) -> list[dt.date]:
    stand = next(one for one in order.stands if one.site == need.site)
    return [on for on in window(order, need) if on in stand.open_on and on not in need.closed_on]


def _past_limit(order: Order, need: Need) -> Finding:
    days = (order.from_on - need.limit_on).days
    return Finding(
        code=Code.PAST_LIMIT,
        needs=(need.name,),
        is_proved=True,
        numbers={"days_past_limit": days},
        words=f"{unit_words(need)} was to be served by {in_words(need.limit_on)},"
        f" {days} {'day' if days == 1 else 'days'} before the plan begins on"
        f" {in_words(order.from_on)}.",
    )


def _no_open_day(order: Order, need: Need) -> Finding:
    days = window(order, need)
    stand = next(one for one in order.stands if one.site == need.site)
    closed = [on for on in days if on not in stand.open_on]
    unsuitable = [on for on in days if on in stand.open_on]
    if need.opens_on > need.limit_on:
        why = (
            f"its window begins on {in_words(need.opens_on)}, after its limit of"
            f" {in_words(need.limit_on)}"
        )
    elif not days:
        why = (
            f"its window begins on {in_words(need.opens_on)}, after the plan ends on"
            f" {in_words(order.to_on)}"
        )
    else:
        parts = [f"closed on {days_in_words(closed)}"] if closed else []
        parts += [f"not suitable on {days_in_words(unsuitable)}"] if unsuitable else []
        why = f"{span_in_words(days[0], days[-1])} the site is {', and '.join(parts)}"
    return Finding(
        code=Code.NO_OPEN_DAY,
        needs=(need.name,),
        is_proved=True,
        numbers={"days": len(days), "closed": len(closed), "unsuitable": len(unsuitable)},
        words=f"{unit_words(need)} has no day to be served: {why}.",
    )


def _no_server(order: Order, need: Need) -> Finding:
    who = "no technician serves" if order.technicians else "there is no technician for"
    return Finding(
        code=Code.OUT_OF_REACH,
        needs=(need.name,),
        is_proved=True,
        numbers={"technicians": 0},
        words=f"{unit_words(need)} cannot be served: {who} the kind {need.kind}.",
    )


def _longer_than_day(need: Need, servers: Sequence[Technician]) -> Finding:
    longest = max(one.day_minutes for one in servers)
    return Finding(
        code=Code.LONGER_THAN_DAY,
        needs=(need.name,),
        technicians=tuple(one.technician for one in servers),
        is_proved=True,
        numbers={"minutes": need.minutes, "day_minutes": longest},
        words=f"{unit_words(need)} takes {duration(need.minutes)}, longer than the longest day of a"
        f" technician who may serve it, {duration(longest)}.",
    )


def _out_of_reach(
    order: Order, need: Need, servers: Sequence[Technician], days: Sequence[dt.date]
) -> Finding:
    able = [one for one in servers if one.day_minutes >= need.minutes]
    best = min((ideal(order, need, one) for one in able), key=lambda one: one.days)
    most = max(one.max_nights for one in able)
    working = any(on in one.works_on for one in able for on in days)
    span = span_in_words(days[0], days[-1])
    trip = (
        f"{duration(best.there_minutes)} there, {duration(need.minutes)} of service and"
        f" {duration(best.back_minutes)} back take {best.days}"
        f" {'day' if best.days == 1 else 'days'} and {best.nights}"
        f" {'night' if best.nights == 1 else 'nights'} away"
    )
    if not working:
        why = f"no technician who may serve it works on one of its {len(days)} open days {span}"
    elif best.nights > most:
        why = f"{trip}, and {most} is the most a technician may be away"
    else:
        why = f"{trip}, and no technician works so many days of one week round an open day {span}"
    return Finding(
        code=Code.OUT_OF_REACH,
        needs=(need.name,),
        technicians=tuple(one.technician for one in servers),
        is_proved=True,
        numbers={
            "there_minutes": best.there_minutes,
            "back_minutes": best.back_minutes,
            "minutes": need.minutes,
            "nights": best.nights,
            "max_nights": most,
            "open_days": len(days),
        },
        words=f"{unit_words(need)} is out of reach: {why}.",
    )
