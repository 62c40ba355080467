"""Where is a unit on a day, is a mark expected of it, and what does its record say?"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from typing import NamedTuple

from tests.reference.calendars import RefCalendar
from tests.reference.dates import ONE_DAY, days_between
from tests.reference.records import RefEntry, RefFleet, RefOutage, RefRule, RefUnit

__all__ = ["RefMark", "UnitOfFleet"]


class RefMark(NamedTuple):
    """What the record says of one task on one day."""

    task: str
    on: dt.date
    mark: str


class UnitOfFleet:
    """One unit with all that concerns it, as known at an instant (None: all that is known)."""

    def __init__(
        self,
        fleet: RefFleet,
        unit: RefUnit,
        calendars: Mapping[str, RefCalendar],
        known_at: dt.datetime | None,
    ) -> None:
        number = unit.property_number
        self.unit, self.start_on = unit, unit.in_service_on
        self.moves = [p for p in fleet.placements if p.property_number == number]
        self.outages = [o for o in fleet.outages if o.property_number == number]
        self.rules = [
            rule
            for rule in fleet.rules
            if rule.kind == unit.kind and (not rule.models or unit.model in rule.models)
        ]
        self._calendars = calendars
        self._expected: dict[dt.date, bool] = {}
        self.marks = [
            mark
            for entry in _standing(fleet, known_at)
            if entry.property_number == number
            for mark in self._marks_of(entry)
        ]
        self._marks_on = Counter((mark.task, mark.on) for mark in self.marks)
        self._done: dict[str, list[dt.date]] = {}

    def tasks(self) -> list[str]:
        """The tasks any version of any rule gives this unit, in the order of the book."""
        return list(dict.fromkeys(rule.task for rule in self.rules))

    def version_on(self, task: str, day: dt.date) -> RefRule | None:
        """The version in force: one made for the model first, then the latest `from`."""
        speaking = [
            rule
            for rule in self.rules
            if rule.task == task
            and (rule.from_on is None or rule.from_on <= day)
            and (rule.until_on is None or day <= rule.until_on)
        ]
        if not speaking:
            return None
        return max(speaking, key=lambda rule: (bool(rule.models), rule.from_on or dt.date.min))

    def calendar_on(self, day: dt.date) -> RefCalendar:
        """The calendar of the site where it stands; retired, of the site where it last stood."""
        if self.is_retired(day) and self.unit.retired_on is not None:
            day = self.unit.retired_on - ONE_DAY
        moves = [move for move in self.moves if move.from_on <= day]
        if not moves:
            return self._calendars[self.unit.site]
        return self._calendars[max(moves, key=lambda move: move.from_on).site]

    def is_retired(self, day: dt.date) -> bool:
        """Say whether the unit is retired."""
        return self.unit.retired_on is not None and day >= self.unit.retired_on

    def outage_on(self, day: dt.date) -> RefOutage | None:
        """The outage the day lies in; the day of return lies outside."""
        for outage in self.outages:
            if outage.from_on <= day and (outage.to_on is None or day < outage.to_on):
                return outage
        return None

    def is_expected(self, day: dt.date) -> bool:
        """Say whether a mark is expected: in service, on record, not out, its site open."""
        if day not in self._expected:
            self._expected[day] = self._expects(day)
        return self._expected[day]

    def done_dates(self, task: str, on: dt.date) -> list[dt.date]:
        """The dates done, not after `on`, each once, in order."""
        if task not in self._done:
            done = {mark.on for mark in self.marks if (mark.task, mark.mark) == (task, "done")}
            self._done[task] = sorted(done)
        return [day for day in self._done[task] if day <= on]

    def marks_on(self, task: str, day: dt.date) -> int:
        """How many marks of the task speak of the day, whatever they say."""
        return self._marks_on[task, day]

    def _expects(self, day: dt.date) -> bool:
        record_from_on = self.unit.record_from_on
        return (
            day >= self.start_on
            and not self.is_retired(day)
            and (record_from_on is None or day >= record_from_on)
            and self.outage_on(day) is None
            and self.calendar_on(day).is_open(day)
        )

    def _marks_of(self, entry: RefEntry) -> list[RefMark]:
        """One day, whatever the calendar says of it; of a span the expected days."""
        if entry.mark is None:
            return []
        days = [entry.on]
        if entry.to_on is not None and entry.to_on > entry.on:
            days = [day for day in days_between(entry.on, entry.to_on) if self.is_expected(day)]
        return [RefMark(entry.task, day, entry.mark) for day in days]


def _standing(fleet: RefFleet, known_at: dt.datetime | None) -> list[RefEntry]:
    """The entries known and not struck; a strike holds also where the striker is struck itself."""
    known = [
        entry
        for entry in fleet.entries
        if known_at is None or (entry.recorded_at or fleet.loaded_at) <= known_at
    ]
    struck = {entry.strikes for entry in known if entry.strikes}
    return [entry for entry in known if entry.key not in struck]
