"""On which days of a chart is nothing expected of a unit, and why (design 4.5)?

A chart's places for such days are pre-marked: with the weekday, the holiday, the closure, or what
the unit itself did that day.
"""

from __future__ import annotations

import copy
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

import numpy as np

from fleet.domain.records import Outage
from fleet.services.columns import FleetColumns
from schedules.calendars import Closed, SiteCalendar
from schedules.dates import Mask, date_of, day_of

__all__ = ["Cause", "ChartDays", "Reason"]

_LONGEST_PERIOD = 366


class Cause(StrEnum):
    """Why a day is not expected; of the causes of several days the first tells of their cell."""

    RETIRED = "retired"
    NOT_YET = "not in service yet"
    ELSEWHERE = "at another site"
    BEFORE = "before the record"
    OUT = "out of service"
    CLOSURE = "closure"
    HOLIDAY = "holiday"
    WEEKDAY = "weekday"


class Reason(NamedTuple):
    """The cause, and in words which weekday, holiday, closure, outage or site it is, or ''."""

    cause: Cause
    words: str


class ChartDays:
    """The days of some charts, widened on both sides to hold whole periods.

    A day is a *turn*, counted from `first_day`; a unit is its place in the fleet. With a site, days
    at other sites are not expected.
    """

    def __init__(
        self,
        fleet: FleetColumns,
        outages: Iterable[Outage],
        from_on: dt.date,
        to_on: dt.date,
        site: str | None,
    ) -> None:
        self.from_on, self.to_on = from_on, to_on
        self.first_day = day_of(from_on) - _LONGEST_PERIOD
        self.count = day_of(to_on) + _LONGEST_PERIOD - self.first_day + 1
        self.dates = [date_of(self.first_day + turn) for turn in range(self.count)]
        self._fleet = fleet
        self._site = self._number(site)
        self._outages: dict[str, list[Outage]] = defaultdict(list)
        for outage in outages:
            self._outages[outage.property_number].append(outage)
        self._reasons: dict[int, Sequence[Reason | None]] = {}
        self._stays: dict[int, Sequence[tuple[int, int, int]]] = {}
        self._closed: dict[int, Sequence[Reason | None]] = {}

    def at(self, site: str) -> ChartDays:
        """The same days for another site's charts; what is true of all sites is not asked again."""
        vars(self).setdefault("_calendars", self._calendars)
        vars(self).setdefault("expected", self.expected)
        other = copy.copy(self)
        other._site, other._reasons = self._number(site), {}
        return other

    def _number(self, site: str | None) -> int | None:
        """The number of a site; None for all, and one that no site has where no unit ever stood."""
        if site is None:
            return None
        return next((n for n, one in enumerate(self._fleet.sites) if one.site == site), -1)

    @cached_property
    def expected(self) -> Mask:
        """The engine's expected days, at whatever site; bool (units, count)."""
        fleet = self._fleet
        index = fleet.index(self.dates[0], self.dates[-1])
        units = np.arange(len(fleet.units))
        return fleet.columns.expected(index, units, self.first_day, self.count)

    def turn_of(self, on: dt.date) -> int:
        """Where a day stands among the turns; negative for one before the first."""
        return day_of(on) - self.first_day

    def expected_within(self, place: int, from_on: dt.date, to_on: dt.date) -> Iterator[int]:
        """The turns of a unit's expected days from one day to another, both included, as far as
        they are known.
        """
        start = max(0, self.turn_of(from_on))
        stop = min(self.count, self.turn_of(to_on) + 1)
        for turn in np.flatnonzero(self.expected[place, start : max(start, stop)]).tolist():
            yield start + turn

    def turns_here(self, place: int) -> Sequence[tuple[int, int]]:
        """When a unit stands at the site (where none is meant, at any): first turns, and the turns
        after the last.
        """
        return [
            (start, stop) for start, stop, site in self.stays(place) if self._site in (None, site)
        ]

    def reasons(self, place: int) -> Sequence[Reason | None]:
        """Why nothing is expected of a unit, a turn each; None where a mark is."""
        if place not in self._reasons:
            self._reasons[place] = self._why(place)
        return self._reasons[place]

    def reason(self, place: int, turn: int) -> Reason | None:
        """The reason of one day."""
        return self.reasons(place)[turn]

    def of_span(self, place: int) -> Sequence[Reason | None]:
        """The reasons of a unit's days from `from_on` to `to_on`."""
        return self.reasons(place)[self.turn_of(self.from_on) : self.turn_of(self.to_on) + 1]

    def stays(self, place: int) -> Sequence[tuple[int, int, int]]:
        """Where a unit stands: first turn, the turn after the last, number of the site."""
        if place not in self._stays:
            columns = self._fleet.columns
            low, high = columns.moves.starts[place : place + 2].tolist()
            days = (columns.moves.days[low:high] - self.first_day).tolist()
            edges = [0, *(min(max(day, 0), self.count) for day in days), self.count]
            sites = [int(columns.calendars[place]), *columns.move_calendars[low:high].tolist()]
            found = zip(edges[:-1], edges[1:], sites, strict=True)
            self._stays[place] = [stay for stay in found if stay[0] < stay[1]]
        return self._stays[place]

    @cached_property
    def _calendars(self) -> list[SiteCalendar]:
        fleet = self._fleet
        return [fleet.calendar(one, self.dates[0], self.dates[-1]) for one in fleet.sites]

    def _why(self, place: int) -> Sequence[Reason | None]:
        """Lay over the site's closed days what the unit did, the cause that tells most last."""
        unit, found = self._fleet.units[place], list[Reason | None]()
        for start, stop, site in self.stays(place):
            found += self._closed_days(site)[start:stop]
        for outage in self._outages.get(unit.property_number, ()):
            self._lay(found, Reason(Cause.OUT, outage.reason), outage.from_on, outage.to_on)
        if unit.record_from_on is not None:
            self._lay(found, Reason(Cause.BEFORE, ""), self.dates[0], unit.record_from_on)
        for start, stop, site in self.stays(place):
            if self._site not in (None, site):
                elsewhere = Reason(Cause.ELSEWHERE, self._fleet.sites[site].site)
                found[start:stop] = [elsewhere] * (stop - start)
        self._lay(found, Reason(Cause.NOT_YET, ""), self.dates[0], unit.in_service_on)
        if unit.retired_on is not None:
            self._lay(found, Reason(Cause.RETIRED, ""), unit.retired_on, None)
        return found

    def _lay(
        self, reasons: list[Reason | None], reason: Reason, from_on: dt.date, to_on: dt.date | None
    ) -> None:
        """Give days from one to before another (None: to the last) a reason."""
        start = min(self.count, max(0, self.turn_of(from_on)))
        stop = self.count if to_on is None else min(self.count, self.turn_of(to_on))
        if start < stop:
            reasons[start:stop] = [reason] * (stop - start)

    def _closed_days(self, site: int) -> Sequence[Reason | None]:
        """Why a site is closed, a turn each; None where it is open."""
        if site not in self._closed:
            calendar, found = self._calendars[site], list[Reason | None]([None]) * self.count
            is_closed = ~calendar.open_days(self.first_day, self.count)
            told: dict[Closed, Reason] = {}
            for turn in np.flatnonzero(is_closed).tolist():
                closed = calendar.why_closed(self.dates[turn])
                if closed is not None:
                    reason = told.get(closed) or Reason(Cause(closed.cause), closed.reason)
                    found[turn] = told.setdefault(closed, reason)
            self._closed[site] = found
        return self._closed[site]
