"""What does the planner reckon with? An order as arrays.

The *axis* is the row of days on which some technician works; a trip takes days that follow each
other there, in one ISO week. Places are the sites, then the depots; needs and technicians are
numbered in the order's own order.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from schedules.dates import day_of
from schedules.visits.model import Lock, Need, Order, Trip

__all__ = [
    "Arrays",
    "Cents",
    "Flags",
    "Ints",
    "Problem",
    "hour_cents",
    "lost_cents",
    "lost_days",
    "mile_cents",
]

Ints = npt.NDArray[np.int32]
Cents = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]


class Arrays(NamedTuple):
    """An order as compiled code takes it: A axis days, N needs, P places, T technicians."""

    day_number: Ints
    """(A,) days since 1970-01-01."""
    week: Ints
    """(A,) the number of the ISO week, counted from the first."""
    site: Ints
    """(N,) the place of a need's site."""
    minutes: Ints
    """(N,) of service."""
    is_open: Flags
    """(N, A) whether the need may be served on the day."""
    day_cents: Cents
    """(N, A) what it costs to serve the need on the day: lost interval, and change."""
    depot: Ints
    """(T,) the place of a technician's depot."""
    works: Flags
    """(T, A)"""
    day_minutes: Ints
    """(T,)"""
    max_nights: Ints
    """(T,)"""
    may_serve: Flags
    """(T, N)"""
    leg_minutes: Ints
    """(P, P)"""
    leg_cents: Cents
    """(P, P) mile and hour, and the visit (into a site), and the trip (out of a depot)."""
    night_cents: int


@dataclass(frozen=True)
class Problem:
    """An order with what was told before, and its arrays."""

    order: Order
    lock: Lock = field(default_factory=Lock)

    @cached_property
    def days(self) -> tuple[dt.date, ...]:
        """The axis: days of the span on which some technician works."""
        worked = {on for technician in self.order.technicians for on in technician.works_on}
        return tuple(sorted(on for on in worked if self.order.from_on <= on <= self.order.to_on))

    @cached_property
    def day_index(self) -> Mapping[dt.date, int]:
        """The number of each axis day."""
        return {on: number for number, on in enumerate(self.days)}

    @cached_property
    def need_index(self) -> Mapping[str, int]:
        """The number of each need, by name."""
        return {need.name: number for number, need in enumerate(self.order.needs)}

    @cached_property
    def technician_index(self) -> Mapping[str, int]:
        """The number of each technician, by name."""
        return {one.technician: number for number, one in enumerate(self.order.technicians)}

    @cached_property
    def arrays(self) -> Arrays:
        """The order as arrays."""
        order = self.order
        place = {name: number for number, name in enumerate(order.places)}
        mondays = [day_of(on) - on.weekday() for on in self.days]
        weeks = {monday: number for number, monday in enumerate(dict.fromkeys(mondays))}
        technicians = order.technicians
        return Arrays(
            day_number=np.array([day_of(on) for on in self.days], dtype=np.int32),
            week=np.array([weeks[monday] for monday in mondays], dtype=np.int32),
            site=np.array([place[need.site] for need in order.needs], dtype=np.int32),
            minutes=np.array([need.minutes for need in order.needs], dtype=np.int32),
            is_open=self._open_days(),
            day_cents=self._day_cents(),
            depot=np.array([place[one.depot] for one in technicians], dtype=np.int32),
            works=np.array(
                [[on in one.works_on for on in self.days] for one in technicians], dtype=np.bool_
            ).reshape(len(technicians), len(self.days)),
            day_minutes=np.array([one.day_minutes for one in technicians], dtype=np.int32),
            max_nights=np.array([one.max_nights for one in technicians], dtype=np.int32),
            may_serve=np.array(
                [
                    [one.kinds is None or need.kind in one.kinds for need in order.needs]
                    for one in technicians
                ],
                dtype=np.bool_,
            ).reshape(len(technicians), len(order.needs)),
            leg_minutes=np.array(order.minutes, dtype=np.int32),
            leg_cents=self._leg_cents(),
            night_cents=order.prices.night,
        )

    def _open_days(self) -> Flags:
        open_on = {stand.site: stand.open_on for stand in self.order.stands}
        is_open = np.zeros((len(self.order.needs), len(self.days)), dtype=np.bool_)
        for number, need in enumerate(self.order.needs):
            for place, on in enumerate(self.days):
                if need.opens_on <= on <= need.limit_on and on not in need.closed_on:
                    is_open[number, place] = on in open_on[need.site]
        return is_open

    def _day_cents(self) -> Cents:
        cents = np.zeros((len(self.order.needs), len(self.days)), dtype=np.int64)
        for number, need in enumerate(self.order.needs):
            announced_on = self.lock.announced.get(need.name)
            for place, on in enumerate(self.days):
                if need.opens_on <= on <= need.limit_on:
                    cents[number, place] = lost_cents(need, on, self.order.prices.lost_day)
                    if announced_on is not None and on != announced_on:
                        cents[number, place] += self.order.prices.change
        return cents

    def _leg_cents(self) -> Cents:
        """What each leg costs; parts are rounded one by one, as they are told."""
        order, sites = self.order, len(self.order.stands)
        cents = mile_cents(np.array(order.miles, dtype=np.int64), order.prices.mile)
        cents += hour_cents(np.array(order.minutes, dtype=np.int64), order.prices.hour)
        elsewhere = ~np.eye(len(order.places), dtype=np.bool_)
        cents[:, :sites] += order.prices.visit * elsewhere[:, :sites]
        cents[sites:, :] += order.prices.trip * elsewhere[sites:, :]
        return cents

    def numbered(self, trip: Trip) -> tuple[int, int, tuple[int, ...]]:
        """A trip's technician, first axis day and needs, by number."""
        needs = tuple(self.need_index[name] for name in trip.needs)
        return self.technician_index[trip.technician], self.day_index[trip.start_on], needs


def mile_cents(miles: npt.NDArray[np.int64], price: int) -> Cents:
    """Hundredths of a mile at a price a mile, each rounded half up to a cent."""
    return (miles * price + 50) // 100


def hour_cents(minutes: npt.NDArray[np.int64], price: int) -> Cents:
    """Minutes at a price an hour, each rounded half up to a cent."""
    return (minutes * price + 30) // 60


def lost_days(need: Need, on: dt.date) -> int:
    """How many days of its interval a need loses if it is served on a day."""
    early = (need.nominal_on - on).days
    return early if need.interval_days and early > need.kept_days else 0


def lost_cents(need: Need, on: dt.date, lost_day: int | None) -> int:
    """What those days cost, rounded half up to a cent."""
    days = lost_days(need, on)
    if not days:
        return 0
    if lost_day is not None:
        return days * lost_day
    return (2 * days * need.fee + need.interval_days) // (2 * need.interval_days)
