"""On which stretches of days can a trip lie, and who could make it? An order for the bound.

A *class* is technicians who could stand in for each other on a trip: same depot, length of day,
nights, needs that may be served. A *segment* is a class and a run of axis days of one week that
some of its technicians work, to be used by each of them for trips that do not share a day.

Two relaxations are made here, both of which can only make trips cheaper: legs become the shortest
way over other places (so that leaving a stop out never lengthens a trip), and a technician may wait
for a later day (so that being early never costs anything).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from schedules.visits.compiled import compiled
from schedules.visits.problem import Arrays, Cents, Flags, Ints
from schedules.visits.walk import last_day, trip_cents

__all__ = ["PARTS", "SITE_NEEDS", "Field", "Ground", "Segment", "cheapest_lone_trips", "ground"]

PARTS = 100
"""Prices are reckoned in whole hundredths of a cent, so that no sum of the bound is rounded."""
SITE_NEEDS = 60
"""A site with more needs in a segment is split in two that lie at the same place."""


class Segment(NamedTuple):
    """A class, a run of axis days (both ends included) and how many technicians work just that."""

    kind: int
    first: int
    last: int
    technicians: int


class Field(NamedTuple):
    """A segment as compiled code takes it: S sites, K needs in order of their site, D days.

    The home of the class is place S. Minutes count from the beginning of the segment's first day.
    """

    length: int
    """Minutes of a day."""
    leg_minutes: Ints
    """(S + 1, S + 1)"""
    leg_price: Cents
    """(S + 1, S + 1)"""
    night_price: Cents
    """(D,) the nights from the segment's first day."""
    last: Ints
    """(D,) the last day of a trip that starts on the day."""
    first_need: Ints
    """(S + 1,) where the needs of a site begin."""
    minutes: Ints
    """(K,)"""
    is_open: Flags
    """(K, D)"""
    day_price: Cents
    """(K, D)"""


class Ground(NamedTuple):
    """A segment, its field, and the order's numbers of the field's needs and the site of each."""

    segment: Segment
    field: Field
    needs: Ints
    sites: Ints


@dataclass(frozen=True)
class Classes:
    """The technicians of arrays in classes: a member of each, and how many work on each day."""

    arrays: Arrays

    @cached_property
    def kind_of(self) -> list[int]:
        """The class of each technician."""
        a = self.arrays
        keys = [
            (int(a.depot[t]), int(a.day_minutes[t]), int(a.max_nights[t]), a.may_serve[t].tobytes())
            for t in range(len(a.depot))
        ]
        numbers = {key: number for number, key in enumerate(dict.fromkeys(keys))}
        return [numbers[key] for key in keys]

    @cached_property
    def members(self) -> list[int]:
        """The first technician of each class."""
        return [self.kind_of.index(kind) for kind in range(max(self.kind_of, default=-1) + 1)]

    @cached_property
    def working(self) -> Ints:
        """(classes, A) technicians of the class who work on the day."""
        counts = np.zeros((len(self.members), len(self.arrays.week)), dtype=np.int32)
        for technician, kind in enumerate(self.kind_of):
            counts[kind] += self.arrays.works[technician]
        return counts

    @cached_property
    def segments(self) -> list[Segment]:
        """All segments, by class and first day."""
        runs: Counter[tuple[int, int, int]] = Counter()
        for technician, kind in enumerate(self.kind_of):
            for first, last in _runs(self.arrays.works[technician], self.arrays.week):
                runs[kind, first, last] += 1
        return [Segment(*run, count) for run, count in sorted(runs.items())]


def _runs(works: Flags, week: Ints) -> list[tuple[int, int]]:
    """The longest runs of axis days of one week that are all worked."""
    runs: list[tuple[int, int]] = []
    for day in np.flatnonzero(works).tolist():
        if runs and runs[-1][1] == day - 1 and week[day] == week[day - 1]:
            runs[-1] = (runs[-1][0], day)
        else:
            runs.append((day, day))
    return runs


def shortened(a: Arrays) -> Arrays:
    """The same with each leg's minutes and cents those of the shortest way over any places."""
    minutes, cents = a.leg_minutes.copy(), a.leg_cents.copy()
    for via in range(len(minutes)):
        np.minimum(minutes, minutes[:, via, None] + minutes[None, via, :], out=minutes)
        np.minimum(cents, cents[:, via, None] + cents[None, via, :], out=cents)
    return a._replace(leg_minutes=minutes, leg_cents=cents)


def ground(a: Arrays, member: int, segment: Segment, wanted: Flags) -> Ground | None:
    """A segment with the needs that `member` of its class can settle in it; None if there are none.

    wanted: (N,) the needs the bound counts. a: with shortened legs.
    """
    days = slice(segment.first, segment.last + 1)
    may = wanted & a.may_serve[member] & a.is_open[:, days].any(axis=1)
    may &= a.minutes <= a.day_minutes[member]
    needs = np.flatnonzero(may)
    needs = needs[np.argsort(a.site[needs], kind="stable")]
    if not len(needs):
        return None
    keys = _site_keys(a.site[needs])
    places = [place for place, _ in dict.fromkeys(keys)]
    numbers = {key: number for number, key in enumerate(dict.fromkeys(keys))}
    sites = np.array([numbers[key] for key in keys], dtype=np.int32)
    order = np.array([*places, a.depot[member]])
    starts = range(segment.first, segment.last + 1)
    field = Field(
        length=int(a.day_minutes[member]),
        leg_minutes=np.ascontiguousarray(a.leg_minutes[np.ix_(order, order)]),
        leg_price=np.ascontiguousarray(a.leg_cents[np.ix_(order, order)]) * PARTS,
        night_price=(a.day_number[days] - a.day_number[segment.first]).astype(np.int64)
        * (a.night_cents * PARTS),
        last=np.array([last_day(a, member, day) for day in starts], np.int32) - segment.first,
        first_need=np.searchsorted(sites, np.arange(len(places) + 1)).astype(np.int32),
        minutes=np.ascontiguousarray(a.minutes[needs]),
        is_open=np.ascontiguousarray(a.is_open[needs, days]),
        day_price=np.ascontiguousarray(a.day_cents[needs, days]) * PARTS,
    )
    return Ground(segment, field, needs.astype(np.int32), sites)


def _site_keys(places: Ints) -> list[tuple[int, int]]:
    """Each need's place, and which part of it where it has more than SITE_NEEDS needs."""
    seen: Counter[int] = Counter()
    keys = []
    for place in places.tolist():
        keys.append((place, seen[place] // SITE_NEEDS))
        seen[place] += 1
    return keys


@compiled
def cheapest_lone_trips(a: Arrays, member: int, cents: npt.NDArray[np.int64], starts: Ints) -> None:
    """For each need the cheapest trip for it alone, by one technician.

    cents: (N,), starts: (N,) take what it costs and when it starts; -1 where there is none.
    """
    one, begun = np.zeros(1, dtype=np.int32), np.zeros(1, dtype=np.int32)
    for need in range(len(a.site)):
        cents[need], starts[need] = -1, -1
        one[0] = need
        for start in range(len(a.week)):
            if a.works[member, start]:
                price = trip_cents(a, member, start, one, 1, begun)
                if price >= 0 and (cents[need] < 0 or price < cents[need]):
                    cents[need], starts[need] = price, start
