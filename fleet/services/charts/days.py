"""On which days of a chart is nothing expected of a unit, and why (design 4.5)?

A chart's places for such days are pre-marked: with the weekday, the holiday, the closure, or what
the unit itself did that day.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

import numpy as np

from fleet.domain.records import Outage
from fleet.services.columns import FleetColumns
from schedules.calendars import SiteCalendar
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
        self._site = next((n for n, one in enumerate(fleet.sites) if one.site == site), None)
        self._outages: dict[str, list[Outage]] = defaultdict(list)
        for outage in outages:
            self._outages[outage.property_number].append(outage)
        self._reasons: dict[int, list[Reason | None]] = {}
        self._closed: dict[tuple[int, int], Reason | None] = {}

    @cached_property
    def expected(self) -> Mask:
        """The engine's expected days, at whatever site; bool (units, count)."""
        fleet = self._fleet
        index = fleet.index(self.dates[0], self.dates[-1])
        units = np.arange(len(fleet.units))
        return fleet.columns.expected(index, units, self.first_day, self.count)

    def expected_within(self, place: int, from_on: dt.date, to_on: dt.date) -> Iterator[dt.date]:
        """A unit's expected days from one to another, both included, as far as they are known."""
        start = max(0, day_of(from_on) - self.first_day)
        stop = min(self.count, day_of(to_on) - self.first_day + 1)
        for turn in np.flatnonzero(self.expected[place, start : max(start, stop)]).tolist():
            yield self.dates[start + turn]

    def is_here(self, place: int, turn: int) -> bool:
        """Say whether a unit stands at the site on a day; always so where no site is meant."""
        return self._site is None or self._standing[turn][place] == self._site

    def reason(self, place: int, turn: int) -> Reason | None:
        """Why nothing is expected of a unit on a day; None where a mark is."""
        if place not in self._reasons:
            turns = range(self.count)
            self._reasons[place] = [self._why(place, turn) for turn in turns]
        return self._reasons[place][turn]

    def of_span(self, place: int) -> Sequence[Reason | None]:
        """The reasons of a unit's days from `from_on` to `to_on`."""
        start = day_of(self.from_on) - self.first_day
        stop = day_of(self.to_on) - self.first_day + 1
        return [self.reason(place, turn) for turn in range(start, stop)]

    @cached_property
    def _standing(self) -> list[list[int]]:
        """For each day the number of the site where each unit stands."""
        columns = self._fleet.columns
        days = range(self.first_day, self.first_day + self.count)
        return [columns.calendars_on(day).tolist() for day in days]

    @cached_property
    def _calendars(self) -> list[SiteCalendar]:
        fleet = self._fleet
        return [fleet.calendar(one, self.dates[0], self.dates[-1]) for one in fleet.sites]

    def _why(self, place: int, turn: int) -> Reason | None:
        if self.expected[place, turn] and self.is_here(place, turn):
            return None
        return self._of_unit(place, turn) or self._of_site(self._standing[turn][place], turn)

    def _of_unit(self, place: int, turn: int) -> Reason | None:
        unit, on = self._fleet.units[place], self.dates[turn]
        if unit.retired_on is not None and unit.retired_on <= on:
            return Reason(Cause.RETIRED, "")
        if on < unit.in_service_on:
            return Reason(Cause.NOT_YET, "")
        if not self.is_here(place, turn):
            return Reason(Cause.ELSEWHERE, self._fleet.sites[self._standing[turn][place]].site)
        if unit.record_from_on is not None and on < unit.record_from_on:
            return Reason(Cause.BEFORE, "")
        for outage in self._outages.get(unit.property_number, ()):
            if outage.from_on <= on and (outage.to_on is None or on < outage.to_on):
                return Reason(Cause.OUT, outage.reason)
        return None

    def _of_site(self, site: int, turn: int) -> Reason | None:
        if (site, turn) not in self._closed:
            closed = self._calendars[site].why_closed(self.dates[turn])
            told = Reason(Cause(closed.cause), closed.reason) if closed else None
            self._closed[site, turn] = told
        return self._closed[site, turn]
