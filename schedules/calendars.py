"""On which days is a site open, and if not, why (design 4.2)?

`SiteCalendar` answers for one site and one day; `CalendarIndex` holds many calendars over one span
of days as flat tables, so that a fleet is answered by look-ups. A table is addressed by
`starts[calendar] + day`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from schedules.dates import Counts, Days, Mask, date_of, day_of, month_table
from schedules.errors import NoOpenDay, OutsideCalendar
from schedules.rules import Roll

__all__ = ["SEARCHED_DAYS", "UNREACHED", "CalendarIndex", "Closed", "SiteCalendar", "Spell"]

SEARCHED_DAYS = 366
"""How far a roll looks for an open day; this many days away is still found."""
UNREACHED = np.int16(32_000)
"""The offset of a day that no roll can move to an open day."""

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, slots=True)
class Spell:
    """Days from one to another, both included, and the reason for them."""

    from_on: dt.date
    to_on: dt.date
    reason: str


@dataclass(frozen=True, slots=True)
class Closed:
    """Why a day is closed: which of the calendar's parts spoke, and in what words."""

    cause: str
    """weekday, holiday or closure."""
    reason: str


@dataclass(frozen=True)
class SiteCalendar:
    """One site's working calendar.

    weekly: weekday numbers (Monday 0) in force from a date on, oldest first; the first pattern
    also speaks for all days before it. holidays: the days the site keeps, by name.
    """

    site: str
    weekly: tuple[tuple[dt.date, frozenset[int]], ...]
    holidays: Mapping[dt.date, str] = field(default_factory=dict)
    closures: tuple[Spell, ...] = ()
    openings: tuple[Spell, ...] = ()

    def why_closed(self, on: dt.date) -> Closed | None:
        """Say why the site is closed on a day; None if it is open."""
        if any(spell.from_on <= on <= spell.to_on for spell in self.openings):
            return None
        for spell in self.closures:
            if spell.from_on <= on <= spell.to_on:
                return Closed("closure", spell.reason)
        if on in self.holidays:
            return Closed("holiday", self.holidays[on])
        pattern = self.weekly[0][1]
        for from_on, weekdays in self.weekly[1:]:
            if from_on <= on:
                pattern = weekdays
        return None if on.weekday() in pattern else Closed("weekday", WEEKDAYS[on.weekday()])

    def open_days(self, first_day: int, days: int) -> Mask:
        """Whether each of so many days from `first_day` on is open; bool of length `days`."""
        numbers = np.arange(first_day, first_day + days)
        weekday = (numbers + 3) % 7
        is_open = np.zeros(days, dtype=np.bool_)
        for place, (from_on, weekdays) in enumerate(self.weekly):
            start = 0 if place == 0 else max(0, day_of(from_on) - first_day)
            is_open[start:] = np.isin(weekday[start:], list(weekdays))
        for on in self.holidays:
            place = day_of(on) - first_day
            if 0 <= place < days:
                is_open[place] = False
        for spells, value in ((self.closures, False), (self.openings, True)):
            for spell in spells:
                start = max(0, day_of(spell.from_on) - first_day)
                is_open[start : max(start, day_of(spell.to_on) - first_day + 1)] = value
        return is_open


def _following(is_open: Mask) -> npt.NDArray[np.int32]:
    """Days from each place to the first open one at or after it; (calendars, days) in and out."""
    days = is_open.shape[1]
    places = np.arange(days, dtype=np.int32)
    far = np.where(is_open, places, np.int32(2**30))
    return np.minimum.accumulate(far[:, ::-1], axis=1)[:, ::-1] - places


def _preceding(is_open: Mask) -> npt.NDArray[np.int32]:
    """Days from each place (0 or less) to the last open one at or before it."""
    days = is_open.shape[1]
    places = np.arange(days, dtype=np.int32)
    far = np.where(is_open, places, np.int32(-(2**30)))
    return np.maximum.accumulate(far, axis=1) - places


def _bounded(offsets: npt.NDArray[np.int32]) -> npt.NDArray[np.int16]:
    """Offsets as int16, with what lies beyond the search marked unreached."""
    return np.where(np.abs(offsets) <= SEARCHED_DAYS, offsets, UNREACHED).astype(np.int16)


class CalendarIndex:
    """Many calendars over one span of days, as tables of shape (calendars, days).

    sites: the site of each calendar; is_open bool. The span reaches a search beyond the first and
    last day asked for, so that every roll within them is known.
    """

    def __init__(
        self, calendars: Sequence[SiteCalendar], first_on: dt.date, last_on: dt.date
    ) -> None:
        """Build the tables for all days from `first_on` to `last_on`, both included."""
        margin = SEARCHED_DAYS + 1
        self.sites = tuple(calendar.site for calendar in calendars)
        self.first_day, self.last_day = day_of(first_on), day_of(last_on)
        self._table_day = self.first_day - margin
        self.days = self.last_day - self.first_day + 1 + 2 * margin
        self.is_open: Mask = np.zeros((len(calendars), self.days), dtype=np.bool_)
        for place, calendar in enumerate(calendars):
            self.is_open[place] = calendar.open_days(self._table_day, self.days)
        self.starts = np.arange(len(calendars), dtype=np.int64) * self.days - self._table_day

    @cached_property
    def open_before(self) -> npt.NDArray[np.int32]:
        """Flat table: how many days of the span before this one are open."""
        counts = np.cumsum(self.is_open, axis=1, dtype=np.int32)
        return (counts - self.is_open).reshape(-1)

    @cached_property
    def _joined(self) -> dict[tuple[Roll, ...], npt.NDArray[np.int16]]:
        return {}

    @cached_property
    def _rolled(self) -> dict[Roll, npt.NDArray[np.int16]]:
        return {}

    def offsets(self, how: Roll) -> npt.NDArray[np.int16]:
        """Flat table: by how many days a roll moves each day; `UNREACHED` where it cannot."""
        if how not in self._rolled:
            self._rolled[how] = self._make_offsets(how).reshape(-1)
        return self._rolled[how]

    def offsets_of(self, rolls: tuple[Roll, ...]) -> npt.NDArray[np.int16]:
        """The tables of several rolls, end to end."""
        if rolls not in self._joined:
            self._joined[rolls] = np.concatenate([self.offsets(roll) for roll in rolls])
        return self._joined[rolls]

    def _make_offsets(self, how: Roll) -> npt.NDArray[np.int16]:
        if how is Roll.NONE:
            return np.zeros(self.is_open.shape, dtype=np.int16)
        if how is Roll.PRECEDING:
            return _bounded(_preceding(self.is_open))
        following = _bounded(_following(self.is_open))
        if how is Roll.FOLLOWING:
            return following
        table = month_table()
        month = table.month[self._table_day - table.first_day :][: self.days]
        reached = np.clip(np.arange(self.days) + following, 0, self.days - 1)
        leaves = (month[reached] != month) & (following != UNREACHED)
        return np.where(leaves, _bounded(_preceding(self.is_open)), following)

    @cached_property
    def has_unreached(self) -> Mask:
        """Whether a calendar has a day in its span that a roll cannot move; bool (calendars,)."""
        shape = self.is_open.shape
        inner = slice(SEARCHED_DAYS + 1, shape[1] - SEARCHED_DAYS - 1)
        following = self.offsets(Roll.FOLLOWING).reshape(shape)[:, inner]
        preceding = self.offsets(Roll.PRECEDING).reshape(shape)[:, inner]
        unreached: Mask = ((following == UNREACHED) | (preceding == UNREACHED)).any(axis=1)
        return unreached

    def first_rolling_beyond(self, how: Roll, day: int) -> Days:
        """For each calendar, the first day that a roll moves beyond `day`; int32 (calendars,).

        Rolling never changes the order of days, so `rolled(d) > day` is the same as
        `d >= first_rolling_beyond(how, day)`.
        """
        if how is Roll.NONE:
            return np.full(len(self.sites), day + 1, dtype=np.int32)
        place = day - self._table_day
        is_before, is_after = self.is_open[:, place::-1], self.is_open[:, place + 1 :]
        after_last = np.where(is_before.any(axis=1), place + 1 - is_before.argmax(axis=1), 0)
        next_open = np.where(is_after.any(axis=1), place + 1 + is_after.argmax(axis=1), self.days)
        found = next_open if how is Roll.PRECEDING else after_last
        if how is Roll.MODIFIED_FOLLOWING:
            reached = np.minimum(next_open, self.days - 1) + self._table_day
            table = month_table()
            month_begins = table.first_of.take(table.month.take(reached - table.first_day))
            found = np.maximum(found, month_begins - self._table_day)
        return (found + self._table_day).astype(np.int32)

    def roll(self, days: Days, how: Roll, calendar_of_row: npt.NDArray[np.int64]) -> Days:
        """Move each day to a working day of its row's calendar (design 4.2).

        days: int32; calendar_of_row: int64, same length; result: int32. Raises OutsideCalendar for
        a day beyond the span, NoOpenDay where there is none to move to; both name the site.
        """
        self.check(days, calendar_of_row)
        address = self.starts.take(calendar_of_row)
        address += days
        offsets = self.offsets(how).take(address)
        if offsets.size and offsets.max() == UNREACHED:
            row = np.flatnonzero(offsets == UNREACHED)[0]
            raise NoOpenDay(
                self.sites[int(calendar_of_row[row])], date_of(days[row]), SEARCHED_DAYS
            )
        return np.add(days, offsets, dtype=np.int32)

    def check(self, days: Days, calendar_of_row: npt.NDArray[np.int64]) -> None:
        """Raise OutsideCalendar if a day lies beyond the span, naming the first such row's site."""
        if days.size and (days.min() < self.first_day or days.max() > self.last_day):
            row = np.flatnonzero((days < self.first_day) | (days > self.last_day))[0]
            raise OutsideCalendar(
                self.sites[int(calendar_of_row[row])],
                date_of(days[row]),
                date_of(self.first_day),
                date_of(self.last_day),
            )

    def open_days_within(
        self, after: Days, until: int, calendar_of_row: npt.NDArray[np.int64]
    ) -> Counts:
        """Count the open days of (after, until]; int32, 0 where `until` is not after."""
        starts = self.starts.take(calendar_of_row)
        counts = self.open_before.take(starts + (until + 1)) - self.open_before.take(
            starts + np.minimum(after, until) + 1
        )
        return counts.astype(np.int32)
