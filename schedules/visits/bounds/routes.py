"""Which trips cost less than they are worth? Labels, set at the pace of time.

A label says: at this minute a technician who started on this day is done at this site, has paid so
much more than was earned, and remembers these needs. Memory is as in the ng-route relaxation
(Baldacci, Mingozzi & Roberti, "New route relaxation and pricing strategies for the vehicle routing
problem", Operations Research 59(5), 2011): each site has a set of needs that one remembers there,
others are forgotten on the way to it. A forgotten need may be served again, so there are more trips
here than there really are, never fewer.

A label is dominated by one of the same site that is no later, no dearer, did not start earlier and
remembers no need that it does not: whatever the later one can do, so can the other, which may wait.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from schedules.visits.bounds.completion import Completion
from schedules.visits.bounds.segments import Field
from schedules.visits.bounds.services import Masks, Services
from schedules.visits.compiled import compiled
from schedules.visits.problem import Cents, Ints

__all__ = ["SLOT", "Dues", "Found", "Labels", "Memory", "empty_labels", "routes"]

SLOT = 60
"""Minutes for which one mask says which needs can still be served."""
_FRONT = 2048
"""How many labels a site keeps to judge others by."""


class Memory(NamedTuple):
    """What is remembered where; the bits are at most 64, needs remembered at one site differ."""

    bit: Masks
    """(K,) 0 for a need that is not remembered even at its site."""
    common: Masks
    """(S, S) what of the memory at a site is kept on the way to another."""
    lone: Masks
    """(S, S + 1) at a site, the bit of another's only need; 0 if it has more or is forgotten."""
    alive: Masks
    """(S, slots) which bits at a site still matter."""


class Dues(NamedTuple):
    """What a day out costs beyond the trip's own price: (D,) each."""

    start: Cents
    """Of a trip that starts on the day: what is taken off again."""
    end: Cents
    """Of a trip that comes home on the day, reckoned from the segment's first."""


class Labels(NamedTuple):
    """Room for labels."""

    at: Ints
    price: Cents
    site: Ints
    memory: Masks
    start: Ints
    parent: Ints
    choice: Ints
    """Which of the services was done last."""
    following: Ints
    """The next label of the same minute."""


class Found(NamedTuple):
    """What the labels say. labels: how many, -1 if there was no room for all."""

    labels: int
    least: Cents
    """(D, D) the least price of a trip that starts and ends on these days; 0 where none is less."""
    site_price: Cents
    """(S, D) the least price of a trip that serves the site last, by start; 0: none is less."""
    site_label: Ints
    """(S, D) that trip's last label; -1 where there is none."""


def empty_labels(room: int) -> Labels:
    """Room for so many labels."""
    whole = [np.empty(room, dtype=np.int32) for _ in range(6)]
    price, memory = np.empty(room, dtype=np.int64), np.empty(room, dtype=np.uint64)
    return Labels(whole[0], price, whole[1], memory, whole[2], whole[3], whole[4], whole[5])


class Front(NamedTuple):
    """For each site the labels that others are judged by, by rising price."""

    sizes: Ints
    price: Cents
    memory: Masks
    start: Ints


@compiled
def _is_dominated(
    front: Front, site: int, price: int, memory: np.uint64, start: int, is_exact: bool
) -> bool:
    for place in range(front.sizes[site]):
        if front.price[site, place] > price:
            return False
        if not is_exact:
            return True
        if front.memory[site, place] & ~memory == 0 and front.start[site, place] >= start:
            return True
    return False


@compiled
def _stand(front: Front, site: int, price: int, memory: np.uint64, start: int) -> None:
    """Put a label among those that others are judged by, and drop those it makes unneeded."""
    count = front.sizes[site]
    place = 0
    while place < count and front.price[site, place] <= price:
        place += 1
    kept = place
    for turn in range(place, count):
        if memory & ~front.memory[site, turn] == 0 and start >= front.start[site, turn]:
            continue
        front.price[site, kept] = front.price[site, turn]
        front.memory[site, kept] = front.memory[site, turn]
        front.start[site, kept] = front.start[site, turn]
        kept += 1
    if kept == front.price.shape[1]:
        kept -= 1
    for turn in range(kept, place, -1):
        front.price[site, turn] = front.price[site, turn - 1]
        front.memory[site, turn] = front.memory[site, turn - 1]
        front.start[site, turn] = front.start[site, turn - 1]
    if place < front.price.shape[1]:
        front.price[site, place] = price
        front.memory[site, place] = memory
        front.start[site, place] = start
        kept += 1
    front.sizes[site] = min(kept, front.price.shape[1])


@compiled
def _put(
    labels: Labels, heads: Ints, count: int, at: int, price: int, site: int, memory: np.uint64,
    start: int, parent: int, choice: int,
) -> int:  # fmt: skip
    """Keep one more label; the count of labels."""
    labels.at[count] = at
    labels.price[count] = price
    labels.site[count] = site
    labels.memory[count] = memory
    labels.start[count] = start
    labels.parent[count] = parent
    labels.choice[count] = choice
    labels.following[count] = heads[at]
    heads[at] = count
    return count + 1


@compiled
def _arrive(
    f: Field, sv: Services, v: Completion, m: Memory, labels: Labels, front: Front, heads: Ints,
    count: int, site: int, at: int, price: int, memory: np.uint64, start: int, parent: int,
    is_exact: bool,
) -> int:  # fmt: skip
    """Set the labels of one who arrives at a site; the count of labels, -1 if there is no room."""
    days, last = len(f.last), f.last[start]
    if at > (last + 1) * f.length or price + v.entry[site, at // v.grid] >= 0:
        return count
    for day in range(at // f.length, last + 1):
        begin = max(at, day * f.length)
        room = (day + 1) * f.length - begin
        before = count
        for choice in range(sv.first[site * days + day], sv.first[site * days + day + 1]):
            if sv.minutes[choice] > room:
                break
            if sv.bits[choice] & memory != 0:
                continue
            end = begin + sv.minutes[choice]
            total = price + sv.price[choice]
            cell = end // v.grid
            if total + v.best[site, cell] >= 0:
                continue
            now = (memory | sv.bits[choice]) & m.alive[site, end // SLOT]
            leads_to = v.leads_to[site, cell]
            if m.lone[site, leads_to] & now != 0 and total + v.second[site, cell] >= 0:
                continue
            if _is_dominated(front, site, total, now, start, is_exact):
                continue
            if count == len(labels.at):
                return -1
            count = _put(
                labels, heads, count, end, total, site, now, start, parent, choice
            )  # fmt: skip
        if not is_exact and count > before:
            break
    return count


@compiled
def routes(
    f: Field, sv: Services, v: Completion, m: Memory, dues: Dues, labels: Labels, is_exact: bool
) -> Found:
    """Set all labels that may lead to a trip of negative price.

    not is_exact: few labels, by price alone; what is found is a trip, but not the least.
    """
    sites, days = len(f.first_need) - 1, len(f.last)
    least = np.zeros((days, days), dtype=np.int64)
    site_price = np.zeros((sites, days), dtype=np.int64)
    site_label = np.full((sites, days), -1, dtype=np.int32)
    heads = np.full(days * f.length + 1, -1, dtype=np.int32)
    front = _no_front(sites)
    count = _set_out(f, sv, v, m, dues, labels, front, heads, is_exact)
    for at in range(days * f.length + 1):
        label = heads[at] if count >= 0 else -1
        while label >= 0:
            site, price = labels.site[label], labels.price[label]
            memory, start = labels.memory[label], labels.start[label]
            if not _is_dominated(front, site, price, memory, start, is_exact):
                _stand(front, site, price, memory, start)
                home = at + f.leg_minutes[site, sites]
                if home <= (f.last[start] + 1) * f.length:
                    end = max(0, home - 1) // f.length
                    total = price + f.leg_price[site, sites] + dues.end[end]
                    least[start, end] = min(least[start, end], total)
                    if total < site_price[site, start]:
                        site_price[site, start] = total
                        site_label[site, start] = label
                count = _go_on(f, sv, v, m, labels, front, heads, count, label, at, is_exact)
            label = labels.following[label] if count >= 0 else -1
    return Found(count, least, site_price, site_label)


@compiled
def _no_front(sites: int) -> Front:
    return Front(
        np.zeros(sites, dtype=np.int32),
        np.empty((sites, _FRONT), dtype=np.int64),
        np.empty((sites, _FRONT), dtype=np.uint64),
        np.empty((sites, _FRONT), dtype=np.int32),
    )


@compiled
def _set_out(
    f: Field, sv: Services, v: Completion, m: Memory, dues: Dues, labels: Labels, front: Front,
    heads: Ints, is_exact: bool,
) -> int:  # fmt: skip
    """The labels of who comes straight from the depot; their count, -1 if there is no room."""
    sites, count = len(f.first_need) - 1, 0
    for start in range(len(f.last)):
        for site in range(sites):
            at = start * f.length + f.leg_minutes[sites, site]
            price = dues.start[start] + f.leg_price[sites, site]
            if count >= 0:
                count = _arrive(
                    f, sv, v, m, labels, front, heads, count,
                    site, at, price, np.uint64(0), start, -1, is_exact,
                )  # fmt: skip
    return count


@compiled
def _go_on(
    f: Field, sv: Services, v: Completion, m: Memory, labels: Labels, front: Front, heads: Ints,
    count: int, label: int, at: int, is_exact: bool,
) -> int:  # fmt: skip
    """The labels of who goes on from a label to each site; the count of all, -1: no room."""
    sites, site = len(f.first_need) - 1, labels.site[label]
    for other in range(sites):
        there = at + f.leg_minutes[site, other]
        if other == site:
            if f.first_need[site + 1] - f.first_need[site] == 1 and m.lone[site, site]:
                continue
            there = (at + f.length - 1) // f.length * f.length
        if count >= 0:
            count = _arrive(
                f, sv, v, m, labels, front, heads, count, other, there,
                labels.price[label] + f.leg_price[site, other],
                labels.memory[label] & m.common[site, other], labels.start[label], label, is_exact,
            )  # fmt: skip
    return count
