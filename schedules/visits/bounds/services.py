"""What can be done at a site on a day? The choices of its needs worth a thought, at given duals.

A choice is worth a thought unless another takes no longer, costs no more and remembers no need that
it does not. In what order the needs of one site are served on one day does not matter.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from schedules.visits.bounds.segments import Field
from schedules.visits.compiled import compiled
from schedules.visits.problem import Cents, Ints

__all__ = ["NEVER", "Masks", "Services", "services"]

Masks = npt.NDArray[np.uint64]
NEVER = 2**60
"""The price of what cannot be."""


class Services(NamedTuple):
    """The choices of each site and day, by rising minutes."""

    first: Ints
    """(S * D + 1,) where the choices of site * D + day begin."""
    minutes: Ints
    price: Cents
    """What its needs cost on the day less what they are worth."""
    bits: Masks
    """The bits of those of its needs that are remembered."""
    chosen: Masks
    """Bit i: the site's need i."""


@compiled
def services(f: Field, worth: Cents, bit: Masks) -> Services:
    """The choices at given worths of the needs, (K,); bit: (K,), 0 for a need not remembered."""
    sites, days = len(f.first_need) - 1, len(f.last)
    first = np.zeros(sites * days + 1, dtype=np.int32)
    minutes, price = np.empty(4096, dtype=np.int32), np.empty(4096, dtype=np.int64)
    bits, chosen = np.empty(4096, dtype=np.uint64), np.empty(4096, dtype=np.uint64)
    count = 0
    for place in range(sites * days):
        site, day = place // days, place % days
        own = _of_day(f, worth, bit, f.first_need[site], f.first_need[site + 1], day)
        more = len(own.minutes)
        while count + more > len(minutes):
            minutes = np.append(minutes, np.empty_like(minutes))
            price = np.append(price, np.empty_like(price))
            bits = np.append(bits, np.empty_like(bits))
            chosen = np.append(chosen, np.empty_like(chosen))
        minutes[count : count + more] = own.minutes
        price[count : count + more] = own.price
        bits[count : count + more] = own.bits
        chosen[count : count + more] = own.chosen
        count += more
        first[place + 1] = count
    return Services(first, minutes[:count], price[:count], bits[:count], chosen[:count])


class _Free(NamedTuple):
    """Of the needs not remembered, by minutes: the least price and the needs chosen for it."""

    top: int
    """The most minutes that were reached."""
    price: Cents
    chosen: Masks


@compiled
def _of_day(f: Field, worth: Cents, bit: Masks, begin: int, end: int, day: int) -> Services:
    """The choices of one site on one day; `first` is of no use there."""
    known = np.empty(end - begin, dtype=np.int64)
    kept = 0
    for need in range(begin, end):
        if bit[need] != 0 and f.is_open[need, day] and f.day_price[need, day] < worth[need]:
            known[kept] = need
            kept += 1
    free = _free_choices(f, worth, bit, begin, end, day)
    groups = 1 << kept
    most = groups * (f.length + 1)
    minutes, price = np.empty(most, dtype=np.int32), np.empty(most, dtype=np.int64)
    bits, chosen = np.empty(most, dtype=np.uint64), np.empty(most, dtype=np.uint64)
    low = np.full((groups, f.length + 1), NEVER, dtype=np.int64)
    count = 0
    for group in range(groups):
        shift, cost = 0, 0
        group_bits, group_mask = np.uint64(0), np.uint64(0)
        for place in range(kept):
            if group >> place & 1:
                need = known[place]
                shift += f.minutes[need]
                cost += f.day_price[need, day] - worth[need]
                group_bits |= bit[need]
                group_mask |= np.uint64(1) << np.uint64(need - begin)
                low[group] = np.minimum(low[group], low[group ^ (1 << place)])
        before = count
        count = _worth_a_thought(free, shift, cost, low[group], minutes, price, chosen, count)
        for place in range(before, count):
            bits[place] = group_bits
            chosen[place] |= group_mask
    order = np.argsort(minutes[:count], kind="mergesort")
    return Services(
        minutes[:0], minutes[:count][order], price[:count][order],
        bits[:count][order], chosen[:count][order],
    )  # fmt: skip


@compiled
def _free_choices(f: Field, worth: Cents, bit: Masks, begin: int, end: int, day: int) -> _Free:
    """The needs of a site that are not remembered, as a knapsack of one day."""
    price = np.full(f.length + 1, NEVER, dtype=np.int64)
    chosen = np.zeros(f.length + 1, dtype=np.uint64)
    price[0] = top = 0
    for need in range(begin, end):
        cost = f.day_price[need, day] - worth[need]
        if bit[need] != 0 or not f.is_open[need, day] or cost >= 0:
            continue
        takes = f.minutes[need]
        top = min(f.length, top + takes)
        for at in range(top, takes - 1, -1):
            before = price[at - takes]
            if before < NEVER and before + cost < price[at]:
                price[at] = before + cost
                chosen[at] = chosen[at - takes] | (np.uint64(1) << np.uint64(need - begin))
    return _Free(top, price, chosen)


@compiled
def _worth_a_thought(
    free: _Free,
    shift: int,
    cost: int,
    low: Cents,
    minutes: Ints,
    price: Cents,
    chosen: Masks,
    count: int,
) -> int:
    """List the choices of a group of remembered needs that nothing shorter undercuts; their count.

    shift, cost: of the group. low: by minutes, the least price of its parts; brought up to its own.
    """
    lowest = NEVER
    for at in range(len(low)):
        if 0 <= at - shift <= free.top and free.price[at - shift] < NEVER:
            total = free.price[at - shift] + cost
            if total < min(lowest, low[at]):
                lowest = total
                if at > 0:
                    minutes[count], price[count] = at, total
                    chosen[count] = free.chosen[at - shift]
                    count += 1
        low[at] = min(low[at], lowest)
    return count
