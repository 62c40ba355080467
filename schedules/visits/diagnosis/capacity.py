"""Do more needs fall into a span of days than the technicians have minutes for? A proof, or none.

For a span of axis days count only needs whose open days all lie in it. Their service is done on
days of the span by technicians who may do it: those have `work` minutes there. Where a row of their
working days begins (ends) in the span, the way out to the nearest of the sites (home) lies in it
too: the `legs`. A trip that serves one of the needs has a day in the span; the technicians' days in
the span, with those before and after that such a trip could reach to (one week, days in a row,
nights allowed), have `reach` minutes, and all service and driving of these trips lies in them.
Three bounds of their driving, of which the greatest counts:

* A trip of at most H minutes to a site R minutes out and back holds at most H - R of service, so
  each minute of service at the site brings at least R / (H - R) of driving, however it is shared.
* Every site is reached at least once, by the shortest leg that leads there, and one leg leads home.
* Some trip goes to the farthest site and comes back.

Roads are the shortest ways over any sites, so that no detour undercuts a bound.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from schedules.visits.problem import Arrays, Cents, Flags, Ints

__all__ = ["Overload", "overloads", "servers_of"]

_PARTS = 1000
"""Of a minute, in which driving is shared out; rounded down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Overload:
    """Axis days first..last in which needs (numbers) take more minutes than technicians have.

    drive: the least of the bound that shows most. minutes: that the technicians have for it.
    """

    first: int
    last: int
    technicians: tuple[int, ...]
    needs: tuple[int, ...]
    service: int
    drive: int
    minutes: int

    @property
    def excess(self) -> int:
        """By how many minutes it is too much."""
        return self.service + self.drive - self.minutes


def overloads(a: Arrays, shortest: Ints, servable: Flags) -> list[Overload]:
    """The tightest span of each group of technicians, then others that share no day with it."""
    found: list[Overload] = []
    for group in _groups(a, servable):
        found += _tightest(_Load(a, shortest, servable, group))
    found.sort(key=lambda one: (one.first, one.last, one.technicians))
    return found


def servers_of(a: Arrays, need: int) -> tuple[int, ...]:
    """The technicians who may serve a need and have a day long enough, by number."""
    able = a.may_serve[:, need] & (a.day_minutes >= a.minutes[need])
    return tuple(np.flatnonzero(able).tolist())


def _groups(a: Arrays, servable: Flags) -> list[tuple[int, ...]]:
    """The sets of technicians who may serve a need, and all of them together."""
    sets = {servers_of(a, need) for need in np.flatnonzero(servable).tolist()}
    together = tuple(sorted({one for some in sets for one in some}))
    return sorted(sets | {together}) if together else []


class _Load:
    """Demand and supply of one group of technicians, (A, A): first and last day of the span."""

    def __init__(self, a: Arrays, shortest: Ints, servable: Flags, group: tuple[int, ...]) -> None:
        self.group = group
        inside = [
            need
            for need in np.flatnonzero(servable).tolist()
            if set(servers_of(a, need)) <= set(group) and a.is_open[need].any()
        ]
        self.needs: Ints = np.array(inside, dtype=np.int32)
        days = len(a.week)
        is_open = a.is_open[self.needs]
        self.first = np.argmax(is_open, axis=1)
        self.last = days - 1 - np.argmax(is_open[:, ::-1], axis=1)
        self.service = self._within(a.minutes[self.needs].astype(np.int64), days)
        self.legs = self._legs(a, shortest, days)
        self.drive = self._drive(a, shortest, days)
        self.work, self.reach = _supply(a, group)

    def _within(self, weights: Cents, days: int) -> Cents:
        """The sum of the weights of needs whose open days all lie in first..last."""
        sums = np.zeros((days, days), dtype=np.int64)
        np.add.at(sums, (self.first, self.last), weights)
        sums = np.cumsum(sums[::-1], axis=0)[::-1]
        return np.cumsum(sums, axis=1)

    def _legs(self, a: Arrays, shortest: Ints, days: int) -> Cents:
        """Ways out and home at the ends of the rows of working days that lie in the span.

        Each counts for half a day at most, so that no row of days gets less than nothing.
        """
        legs = np.zeros((days, days), dtype=np.int64)
        is_hit = self._hits(a, days)
        for one in self.group:
            depot, most = int(a.depot[one]), int(a.day_minutes[one]) // 2
            runs = list(_runs(a, one))
            starts = np.bincount([run[0] for run in runs], minlength=days)
            ends = np.bincount([run[-1] for run in runs], minlength=days)
            legs += _count(starts) * _nearest(is_hit, shortest[depot], most)
            legs += _count(ends) * _nearest(is_hit, shortest[:, depot], most)
        return legs

    def _hits(self, a: Arrays, days: int) -> dict[int, Flags]:
        """In which spans each site has a need."""
        sites = a.site[self.needs]
        return {
            site: self._within((sites == site).astype(np.int64), days) > 0
            for site in sorted(set(sites.tolist()))
        }

    def _drive(self, a: Arrays, shortest: Ints, days: int) -> Cents:
        depots = sorted({int(a.depot[one]) for one in self.group})
        sites = a.site[self.needs]
        out = np.min(shortest[depots], axis=0).astype(np.int64)
        back = np.min(shortest[:, depots], axis=1).astype(np.int64)
        round_trip = np.min(shortest[depots] + shortest[:, depots].T, axis=0).astype(np.int64)
        longest = _longest_trip(a, self.group)
        rest = np.maximum(longest - round_trip[sites], 1)
        minutes = a.minutes[self.needs].astype(np.int64)
        shared = self._within(minutes * round_trip[sites] * _PARTS // rest, days) // _PARTS
        entered = np.zeros((days, days), dtype=np.int64)
        farthest = np.zeros((days, days), dtype=np.int64)
        home = int(back[sites].min()) if len(sites) else 0
        for site, is_hit in self._hits(a, days).items():
            others = [p for p in sorted(set(a.site.tolist())) if p != site]
            legs = [int(shortest[p, site]) for p in others] + [int(out[site])]
            entered += min(legs) * is_hit
            farthest = np.maximum(farthest, int(round_trip[site]) * is_hit)
        entered += home * (entered > 0)
        result: Cents = np.maximum(np.maximum(shared, entered), farthest)
        return result


def _count(marks: npt.NDArray[np.int64]) -> Cents:
    """How many marked days lie in each span."""
    total = np.concatenate([[0], np.cumsum(marks)])
    count: Cents = np.maximum(total[None, 1:] - total[:-1, None], 0)
    return count


def _nearest(is_hit: dict[int, Flags], minutes: Ints, most: int) -> Cents:
    """The way to the nearest site that has a need in the span, `most` at most; 0 without one."""
    days = len(next(iter(is_hit.values())))
    nearest = np.full((days, days), most, dtype=np.int64)
    for site, hit in is_hit.items():
        nearest = np.where(hit, np.minimum(nearest, int(minutes[site])), nearest)
    has_need = np.any(list(is_hit.values()), axis=0)
    result: Cents = np.where(has_need, nearest, 0)
    return result


def _longest_trip(a: Arrays, group: Sequence[int]) -> int:
    """The minutes of the longest trip that anyone of a group could make."""
    most = 1
    for one in group:
        length = int(a.day_minutes[one])
        for run in _runs(a, one):
            ends = a.day_number[run] + int(a.max_nights[one])
            reached = np.searchsorted(a.day_number[run], ends, side="right") - np.arange(len(run))
            most = max(most, length * int(reached.max()))
    return most


def _runs(a: Arrays, technician: int) -> Iterator[Ints]:
    """The axis days in a row of one week that a technician works."""
    days = np.flatnonzero(a.works[technician])
    if len(days):
        breaks = np.flatnonzero((np.diff(days) > 1) | (np.diff(a.week[days]) != 0)) + 1
        yield from np.split(days.astype(np.int32), breaks)


def _supply(a: Arrays, group: Sequence[int]) -> tuple[Cents, Cents]:
    """Minutes of a group in each span, and with the days that a trip of the span could reach to."""
    days = len(a.week)
    work = np.zeros((days, days), dtype=np.int64)
    before, after = np.zeros(days, dtype=np.int64), np.zeros(days, dtype=np.int64)
    for one in group:
        length, nights = int(a.day_minutes[one]), int(a.max_nights[one])
        total = np.concatenate([[0], np.cumsum(a.works[one] * np.int64(length))])
        work += total[None, 1:] - total[:-1, None]
        for run in _runs(a, one):
            for place, day in enumerate(run.tolist()):
                apart = np.abs(a.day_number[run] - a.day_number[day])
                near = apart <= nights
                before[day] += length * int(near[:place].sum())
                after[day] += length * int(near[place + 1 :].sum())
    return work, work + before[:, None] + after[None, :]


def _tightest(load: _Load) -> Iterator[Overload]:
    """Spans that are too full, the one with the greatest share too much first, none twice."""
    alone = load.service + load.legs - load.work
    driven = load.service + load.drive - load.reach
    needed = np.where(driven > alone, load.service + load.drive, load.service + load.legs)
    minutes = np.where(driven > alone, load.reach, load.work)
    ratio: npt.NDArray[np.float64] = needed / np.maximum(minutes, 1)
    ratio[(np.maximum(alone, driven) <= 0) | np.tri(len(ratio), k=-1, dtype=np.bool_)] = 0
    while ratio.size and ratio.max() > 0:
        length = np.arange(len(ratio))[None, :] - np.arange(len(ratio))[:, None]
        best = np.lexsort((length.ravel(), -ratio.ravel()))[0]
        first, last = divmod(int(best), len(ratio))
        inside = (load.first >= first) & (load.last <= last)
        is_driven = bool(driven[first, last] > alone[first, last])
        yield Overload(
            first=first,
            last=last,
            technicians=load.group,
            needs=tuple(load.needs[inside].tolist()),
            service=int(load.service[first, last]),
            drive=int((load.drive if is_driven else load.legs)[first, last]),
            minutes=int(minutes[first, last]),
        )
        ratio[: last + 1, first:] = 0
