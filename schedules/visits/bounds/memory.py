"""Which needs are remembered at which sites? The near ones at first, more where trips repeated one.

Letting the memory grow where the cheapest trips serve a need twice is the dynamic ng-route
relaxation (Roberti & Mingozzi, "Dynamic ng-path relaxation for the delivery man problem",
Transportation Science 48(3), 2014).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from schedules.visits.bounds.routes import SLOT, Memory
from schedules.visits.bounds.segments import Field, Ground
from schedules.visits.bounds.services import Masks
from schedules.visits.compiled import compiled
from schedules.visits.problem import Cents, Flags, Ints

__all__ = ["Stop", "alive_masks", "colours", "first_memory", "grown", "is_allowed", "memory_of"]

Stop = tuple[int, tuple[int, ...]]
"""A site of a field and those of its needs that are served there."""
_BITS = 64


def first_memory(one: Ground, near: int, own: int) -> Flags:
    """(S, K) whether a site remembers a need: the first `own` needs of the `near` nearest."""
    sites = len(one.field.first_need) - 1
    rank = np.argsort(
        np.argsort(one.field.leg_minutes[:sites, :sites], axis=1, kind="stable"), axis=1
    )
    np.fill_diagonal(rank, -1)
    turn = np.arange(len(one.needs)) - one.field.first_need[one.sites]
    knows: Flags = (rank[:, one.sites] < near) & (turn < own)
    return knows


def colours(knows: Flags) -> Masks:
    """(K,) a bit for each need, different where one site remembers both; 0 where none is left."""
    clash = knows.T.astype(np.float32) @ knows.astype(np.float32) > 0
    colour = np.full(knows.shape[1], -1)
    known = np.flatnonzero(knows.any(axis=0))
    for need in known[np.argsort(-clash[known].sum(axis=1), kind="stable")].tolist():
        taken = set(colour[clash[need]].tolist())
        colour[need] = next((bit for bit in range(_BITS) if bit not in taken), -1)
    bits = np.left_shift(np.uint64(1), np.maximum(colour, 0).astype(np.uint64))
    return np.where(colour >= 0, bits, np.uint64(0))


def memory_of(one: Ground, knows: Flags) -> Memory:
    """The masks of a memory; `alive` is yet to be set."""
    bit = colours(knows)
    held = np.where(knows, bit, np.uint64(0))
    sites = len(knows)
    common = np.zeros((sites, sites), dtype=np.uint64)
    for site in range(sites):
        common[site] = np.bitwise_or.reduce(held & held[site], axis=1)
    lone = np.zeros((sites, sites + 1), dtype=np.uint64)
    single = np.flatnonzero(np.diff(one.field.first_need) == 1)
    lone[:, single] = held[:, one.field.first_need[single]]
    own = knows[one.sites, np.arange(len(bit))]
    slots = len(one.field.last) * one.field.length // SLOT + 1
    alive = np.zeros((sites, slots), dtype=np.uint64)
    return Memory(np.where(own, bit, np.uint64(0)), common, lone, alive)


@compiled
def alive_masks(f: Field, sites: Ints, bit: Masks, worth: Cents, alive: Masks) -> None:
    """Set which bits still matter at a site from a slot of time on: of needs that can be served."""
    days, home = len(f.last), len(f.first_need) - 1
    alive[:] = 0
    for need in range(len(sites)):
        reach = -1
        for day in range(days):
            if f.is_open[need, day] and f.day_price[need, day] < worth[need]:
                end = (day + 1) * f.length
                end = min(end, days * f.length - f.leg_minutes[sites[need], home])
                if day * f.length + f.minutes[need] <= end:
                    reach = end
        for site in range(home):
            leave = reach - f.leg_minutes[site, sites[need]] - f.minutes[need]
            if leave >= 0:
                for slot in range(min(leave // SLOT + 1, alive.shape[1])):
                    alive[site, slot] |= bit[need]


def grown(one: Ground, knows: Flags, trips: Iterable[Sequence[Stop]], own: int) -> Flags | None:
    """The memory with needs remembered between the stops that served them twice; None: the same.

    own: how many needs of a site may be remembered.
    """
    more = knows.copy()
    for stops in trips:
        seen: dict[int, int] = {}
        for turn, (_, needs) in enumerate(stops):
            for need in needs:
                if need in seen:
                    between = [site for site, _ in stops[seen[need] : turn + 1]]
                    _remember(one, more, need, between, own)
                seen[need] = turn
    return None if np.array_equal(more, knows) else more


def is_allowed(knows: Flags, stops: Sequence[Stop]) -> bool:
    """Whether a trip serves nothing that it still remembers."""
    held: set[int] = set()
    for site, needs in stops:
        held = {need for need in held if knows[site, need]}
        if not held.isdisjoint(needs):
            return False
        held.update(need for need in needs if knows[site, need])
    return True


def _remember(one: Ground, knows: Flags, need: int, between: Sequence[int], own: int) -> None:
    site = int(one.sites[need])
    first, end = one.field.first_need[site], one.field.first_need[site + 1]
    if not knows[site, need] and knows[site, first:end].sum() >= own:
        return
    more = knows.copy()
    more[between, need] = True
    more[site, need] = True
    if (colours(more) != 0).sum() == more.any(axis=0).sum():
        knows[:] = more
