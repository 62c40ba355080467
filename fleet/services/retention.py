"""Until which day has the record of a unit outlived its retention, and which units are held?

The retention of a kind stands in the rule book, two years at least. A record dated d may go on day
D only if D > add(d, retention): one of 2024-11-26 is kept through 2026-11-26 (42 CFR
493.1105(a)(3), check value A-08). Where several laws speak, the longest is the kind's retention
(A-24).
"""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np

from fleet.domain.records import Unit
from fleet.domain.register import Register
from fleet.services.columns import book_of
from fleet.services.ports import Record
from schedules.dates import add_months, date_of, day_of

__all__ = ["Limits", "last_outlived_on", "units_of_open_actions"]


def last_outlived_on(today: dt.date, months: int) -> dt.date:
    """The latest date d with today > add(d, months), months clamped as in design 4.1."""
    on = _moved(today, -months) + dt.timedelta(days=3)
    while _moved(on, months) >= today:
        on -= dt.timedelta(days=1)
    return on


def _moved(on: dt.date, months: int) -> dt.date:
    return date_of(int(add_months(np.array([day_of(on)], dtype=np.int32), months)[0]))


class Limits:
    """The last days whose records may go, of what is dated before a day that was named.

    now: the instant, whose civil date at a unit's site is the day D.
    """

    def __init__(self, register: Register, now: dt.datetime, before_on: dt.date) -> None:
        self._register, self._book = register, book_of(register)
        self._now, self._before_on = now, before_on
        self._known: dict[tuple[dt.date, int], dt.date] = {}

    def retention(self, kind: str) -> str | None:
        """How long a kind's records are kept, as the book says it; None: it knows no such kind."""
        found = self._book.kinds.get(kind)
        return None if found is None else found.retention.text

    def zone(self, unit: Unit) -> ZoneInfo:
        """The time zone of the unit's site."""
        return ZoneInfo(self._register.sites[(unit.site,)].time_zone)

    def is_named(self, on: dt.date) -> bool:
        """Say whether a day lies before the one that was named."""
        return on < self._before_on

    def known_until(self, unit: Unit) -> dt.date:
        """The last day on which something may have become known that goes.

        Of a kind that the book does not know, nothing goes.
        """
        kind = self._book.kinds.get(unit.kind)
        if kind is None:
            return dt.date.min
        key = (self._now.astimezone(self.zone(unit)).date(), kind.retention.count)
        if key not in self._known:
            self._known[key] = last_outlived_on(*key)
        return self._known[key]

    def dated_until(self, unit: Unit) -> dt.date:
        """The last day of which something may speak that goes."""
        return min(self.known_until(unit), self._before_on - dt.timedelta(days=1))


def units_of_open_actions(record: Record, register: Register) -> set[str]:
    """The units of open corrective actions; for one of a site, all that ever stood there."""
    held: set[str] = set()
    for action in register.actions.values():
        if action.closed_on is not None:
            continue
        if action.entry and (stored := record.stored([action.entry]).get(action.entry)):
            held.add(stored.entry.property_number)
        if action.property_number:
            held.add(action.property_number)
        else:
            held.update(u.property_number for u in register.units.values() if u.site == action.site)
            moves = register.placements.values()
            held.update(move.property_number for move in moves if move.site == action.site)
    return held
