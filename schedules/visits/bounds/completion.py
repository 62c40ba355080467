"""What does it cost at least to come home from a site? A bound on the rest of any trip.

Backwards over time, without a memory of what was served, except that a site with one need is not
returned to at once. Time is taken at the beginning of a cell of `grid` minutes; as one may wait,
that is never dearer than later in it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from schedules.visits.bounds.segments import Field
from schedules.visits.bounds.services import NEVER, Services
from schedules.visits.compiled import compiled
from schedules.visits.problem import Cents, Flags

__all__ = ["Completion", "completion", "grid_for"]

Nexts = npt.NDArray[np.int16]


class Completion(NamedTuple):
    """The least price from a site at a time on, S sites, G cells; and of the best other way on."""

    grid: int
    best: Cents
    """(S, G)"""
    leads_to: Nexts
    """(S, G) the site that the best goes on to; itself after a night there; S for home."""
    second: Cents
    """(S, G) the least price among those that go on to another one."""
    entry: Cents
    """(S, G) the least price from arriving at a site on."""


def grid_for(f: Field, most: int) -> int:
    """The longest cell of at most `most` minutes that no service is shorter than."""
    return int(max(1, min(most, f.minutes.min())))


@compiled
def _better(top: npt.NDArray[np.int64], price: int, leads_to: int) -> None:
    """Put a way on among the best two that go on to different places: price, place, twice."""
    if leads_to == top[1]:
        top[0] = min(top[0], price)
    elif price < top[0]:
        top[2], top[3] = top[0], top[1]
        top[0], top[1] = price, leads_to
    elif price < top[2]:
        top[2], top[3] = price, leads_to


@compiled
def _begin(
    f: Field, sv: Services, v: Completion, others: Nexts, site: int, day: int, at: int, top: Cents
) -> None:
    """The best two ways on for one who begins at a site at a minute of a day."""
    days = len(f.last)
    room = (day + 1) * f.length - at
    for choice in range(sv.first[site * days + day], sv.first[site * days + day + 1]):
        if sv.minutes[choice] > room:
            break
        cell = (at + sv.minutes[choice]) // v.grid
        price = sv.price[choice]
        _better(top, price + v.best[site, cell], v.leads_to[site, cell])
        _better(top, price + v.second[site, cell], others[site, cell])


@compiled
def completion(f: Field, sv: Services, end_price: Cents, is_single: Flags, grid: int) -> Completion:
    """The bounds at given duals. end_price: (D,) of coming home on a day; is_single: (S,)."""
    sites, days = len(f.first_need) - 1, len(f.last)
    cells = days * f.length // grid + 1
    v = Completion(
        grid,
        np.full((sites, cells), NEVER, dtype=np.int64),
        np.full((sites, cells), -1, dtype=np.int16),
        np.full((sites, cells), NEVER, dtype=np.int64),
        np.full((sites, cells), NEVER, dtype=np.int64),
    )
    others = np.full((sites, cells), -1, dtype=np.int16)
    arrive = np.empty((sites, cells, 4), dtype=np.int64)
    later = np.empty((sites, 4), dtype=np.int64)
    later[:, 0] = later[:, 2] = NEVER
    later[:, 1] = later[:, 3] = -1
    coming = days - 1
    for cell in range(cells - 1, -1, -1):
        at = cell * grid
        while coming >= 0 and coming * f.length > at:
            for site in range(sites):
                _begin(f, sv, v, others, site, coming, coming * f.length, later[site])
            coming -= 1
        for site in range(sites):
            arrive[site, cell] = later[site]
            if at // f.length < days:
                _begin(f, sv, v, others, site, at // f.length, at, arrive[site, cell])
            v.entry[site, cell] = arrive[site, cell, 0]
        for site in range(sites):
            _leave(f, v, others, arrive, later[site, 0], end_price, is_single, site, cell)
    return v


@compiled
def _leave(
    f: Field,
    v: Completion,
    others: Nexts,
    arrive: Cents,
    stay: int,
    end_price: Cents,
    is_single: Flags,
    site: int,
    cell: int,
) -> None:
    """Set the best two ways on from a site at a time: home, a later day here, another site."""
    sites, days, at = len(f.first_need) - 1, len(f.last), cell * v.grid
    top = np.array([NEVER, -1, NEVER, -1])
    home = at + f.leg_minutes[site, sites]
    if home <= days * f.length:
        end = max(0, home - 1) // f.length
        _better(top, f.leg_price[site, sites] + end_price[end], sites)
    if not is_single[site]:
        _better(top, min(stay, arrive[site, cell, 0]) if at % f.length == 0 else stay, site)
    for other in range(sites):
        there = (at + f.leg_minutes[site, other]) // v.grid
        if other != site and there < arrive.shape[1]:
            price = arrive[other, there, 0]
            if is_single[site] and arrive[other, there, 1] == site:
                price = arrive[other, there, 2]
            _better(top, price + f.leg_price[site, other], other)
    v.best[site, cell], v.leads_to[site, cell] = top[0], top[1]
    v.second[site, cell], others[site, cell] = top[2], top[3]
