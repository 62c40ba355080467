"""Which trips of a segment are worth more than they cost, at given duals, and how much at most?"""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

import numpy as np

from schedules.visits.bounds.completion import Completion, completion, grid_for
from schedules.visits.bounds.memory import Stop, alive_masks
from schedules.visits.bounds.routes import Dues, Found, Labels, Memory, routes
from schedules.visits.bounds.segments import Ground
from schedules.visits.bounds.services import Services, services
from schedules.visits.problem import Cents, Ints

__all__ = ["Column", "Priced", "packed", "price"]


class Column(NamedTuple):
    """A trip of the master problem: price (PARTS), class, days (both included), needs served."""

    price: int
    kind: int
    first: int
    last: int
    needs: tuple[tuple[int, int], ...]
    """Each need and how many times it is served."""
    ground: int = -1
    stops: tuple[Stop, ...] = ()


class Priced(NamedTuple):
    """A segment's trips: (D, D) the least price by first and last day, 0 if none is less."""

    least: Cents
    columns: list[Column]
    labels: int


def price(
    number: int,
    one: Ground,
    memory: Memory,
    worth: Cents,
    day_worth: Cents,
    labels: Labels,
    most: int,
    grid: int,
    is_exact: bool,
) -> Priced:
    """Price one segment. worth: (N,) of the needs; day_worth: (A,) of the class's days, <= 0.

    most: columns wanted at most. The least prices hold only if is_exact.
    """
    f = one.field
    own = worth[one.needs]
    alive_masks(f, one.sites, memory.bit, own, memory.alive)
    sv = services(f, own, memory.bit)
    days = -day_worth[one.segment.first : one.segment.last + 1]
    until = np.concatenate([[0], np.cumsum(days)])
    dues = Dues(-f.night_price - until[:-1], f.night_price + until[1:])
    sites = len(f.first_need) - 1
    is_single = memory.lone[np.arange(sites), np.arange(sites)] != 0
    v = completion(f, sv, dues.end, is_single, grid_for(f, grid))
    found = routes(f, sv, v, memory, dues, labels, is_exact)
    if found.labels < 0:
        return Priced(_least_of_all(one, v, dues), [], -1)
    return Priced(
        found.least, _columns(number, one, sv, labels, found, own, until, most), found.labels
    )


def _least_of_all(one: Ground, v: Completion, dues: Dues) -> Cents:
    """What no trip can be cheaper than, by its start alone, where the labels found no room."""
    f = one.field
    home, days = len(f.first_need) - 1, len(f.last)
    least = np.zeros((days, days), dtype=np.int64)
    for start in range(days):
        cells = (start * f.length + f.leg_minutes[home, :home]) // v.grid
        there = np.flatnonzero(cells < v.entry.shape[1])
        if len(there):
            rest = (v.entry[there, cells[there]] + f.leg_price[home, there]).min()
            least[start, start] = min(0, int(rest) + int(dues.start[start]))
    return least


def packed(least: Cents) -> int:
    """The least price of trips that share no day: what one technician can do in a segment."""
    days = len(least)
    best = [0] * (days + 1)
    for start in range(days - 1, -1, -1):
        ways = [int(least[start, end]) + best[end + 1] for end in range(start, days)]
        best[start] = min(best[start + 1], *ways)
    return best[0]


def _columns(
    number: int,
    one: Ground,
    sv: Services,
    labels: Labels,
    found: Found,
    worth: Cents,
    until: Cents,
    most: int,
) -> list[Column]:
    """The cheapest trips by last site and start, one for each choice of needs."""
    f, days = one.field, len(one.field.last)
    home = len(f.first_need) - 1
    flat = found.site_price.ravel()
    columns: dict[tuple[object, ...], Column] = {}
    for place in np.argsort(flat, kind="stable").tolist():
        if flat[place] >= 0 or len(columns) >= most:
            break
        site, start = divmod(place, days)
        label = int(found.site_label[site, start])
        at = int(labels.at[label]) + int(f.leg_minutes[site, home])
        end = max(0, at - 1) // f.length
        stops = _stops(f.first_need, sv, labels, label)
        counts = Counter(need for _, needs in stops for need in needs)
        cents = int(flat[place]) + sum(int(worth[need]) * n for need, n in counts.items())
        cents -= int(until[end + 1] - until[start])
        first = one.segment.first
        served = tuple(sorted((int(one.needs[need]), n) for need, n in counts.items()))
        key = (start, end, served)
        if key not in columns:
            kind = one.segment.kind
            columns[key] = Column(cents, kind, first + start, first + end, served, number, stops)
    return list(columns.values())


def _stops(first_need: Ints, sv: Services, labels: Labels, label: int) -> tuple[Stop, ...]:
    stops: list[Stop] = []
    while label >= 0:
        site, mask = int(labels.site[label]), int(sv.chosen[labels.choice[label]])
        begin = int(first_need[site])
        needs = tuple(begin + bit for bit in range(mask.bit_length()) if mask >> bit & 1)
        stops.append((site, needs))
        label = int(labels.parent[label])
    return tuple(reversed(stops))
