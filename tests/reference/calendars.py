"""Is a site open on a day, why not, and where does a date roll to (design 4.2)?"""

from __future__ import annotations

import datetime as dt

from tests.reference.dates import ONE_DAY, days_between
from tests.reference.records import RefClosure, RefFleet, RefSite

__all__ = ["SEARCHED_DAYS", "RefCalendar", "RefNoOpenDay"]

SEARCHED_DAYS = 366

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class RefNoOpenDay(Exception):
    """A site without an open day within 366 days of a date that must roll."""

    def __init__(self, site: str, from_on: dt.date) -> None:
        self.site, self.from_on = site, from_on
        super().__init__(
            f"site {site}: no open day within {SEARCHED_DAYS} days of {from_on};"
            " check its closures and its weekly pattern"
        )


class RefCalendar:
    """One site's days, looked up one at a time and remembered."""

    def __init__(self, fleet: RefFleet, site: RefSite) -> None:
        self.site = site
        self._openings = [c for c in fleet.closures if c.site in ("", site.site) and c.open]
        self._closures = [c for c in fleet.closures if c.site in ("", site.site) and not c.open]
        self._holidays = [h for h in fleet.holidays if h.site == site.site]
        self._patterns = [p for p in fleet.patterns if p.site == site.site]
        self._known: dict[dt.date, str | None] = {}

    def why_closed(self, day: dt.date) -> str | None:
        """None on an open day, else the reason: of a closure, a holiday, or the weekday's name."""
        if day not in self._known:
            self._known[day] = self._look_up(day)
        return self._known[day]

    def is_open(self, day: dt.date) -> bool:
        """Say whether the site is open."""
        return self.why_closed(day) is None

    def open_days_in(self, after_on: dt.date, to_on: dt.date) -> int:
        """The open days after the first date up to the second, which is included."""
        return sum(self.is_open(day) for day in days_between(after_on + ONE_DAY, to_on))

    def roll(self, day: dt.date, how: str) -> dt.date:
        """Move a date to an open day; RefNoOpenDay where there is none near enough."""
        if how == "none":
            return day
        if how == "following":
            return self._walk(day, ONE_DAY)
        if how == "preceding":
            return self._walk(day, -ONE_DAY)
        following = self._walk(day, ONE_DAY)
        if (following.year, following.month) == (day.year, day.month):
            return following
        return self._walk(day, -ONE_DAY)

    def _walk(self, from_on: dt.date, step: dt.timedelta) -> dt.date:
        for count in range(SEARCHED_DAYS + 1):
            if self.is_open(from_on + count * step):
                return from_on + count * step
        raise RefNoOpenDay(self.site.site, from_on)

    def _look_up(self, day: dt.date) -> str | None:
        if _covering(self._openings, day):
            return None
        for closure in _covering(self._closures, day):
            return closure.reason
        for holiday in self._holidays:
            if holiday.on == day:
                return holiday.name
        return None if day.weekday() in self._weekly(day) else WEEKDAYS[day.weekday()]

    def _weekly(self, day: dt.date) -> tuple[int, ...]:
        spoken = [pattern for pattern in self._patterns if pattern.from_on <= day]
        if not spoken:
            return self.site.open_days
        return max(spoken, key=lambda pattern: pattern.from_on).open_days


def _covering(closures: list[RefClosure], day: dt.date) -> list[RefClosure]:
    return [closure for closure in closures if closure.from_on <= day <= closure.to_on]
