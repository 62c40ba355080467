"""Which working calendar does each site keep (design 4.2)?

Public holidays come from the stored snapshot, or, for years it does not hold, from the library; a
`holidays` file that names the site, or all sites of its subdivision, replaces a year entirely.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence

from fleet.domain.records import Closure, Site
from fleet.domain.register import Register
from fleet.services.ports import HolidayYear, PublicHolidays
from fleet.services.standing import units_at
from schedules.calendars import SiteCalendar, Spell
from schedules.rules import LAST_YEAR

__all__ = ["FOR_GOOD_ON", "CalendarMaker", "weekdays"]

FOR_GOOD_ON = dt.date(LAST_YEAR, 12, 31)
"""A closure to this day, the last that a file can hold, is one for good."""
_WEEKDAYS = {"Mon": 0, "Tue": 1, "Wed": 2, "Thu": 3, "Fri": 4, "Sat": 5, "Sun": 6}
Names = Mapping[dt.date, str]


def weekdays(open_days: str) -> frozenset[int]:
    """The weekday numbers (Monday 0) of words such as 'Mon Tue Wed'."""
    return frozenset(_WEEKDAYS[word] for word in open_days.split())


def _is_left(register: Register, closure: Closure) -> bool:
    """Say whether a site was closed for good once every unit had left it.

    Such a closure has no day that is worked. Left out, it does not keep a due date from falling
    after it that is asked for while the unit still stood there: by then the unit stands elsewhere.
    """
    is_for_good = bool(closure.site) and not closure.open and closure.to_on == FOR_GOOD_ON
    return is_for_good and not units_at(register, closure.site, closure.from_on)


class CalendarMaker:
    """Makes the calendars of a register's sites for a span of years."""

    def __init__(
        self, register: Register, snapshot: Sequence[HolidayYear], public_holidays: PublicHolidays
    ) -> None:
        """Sort the register's calendar records by site and year."""
        self._register, self._public_holidays = register, public_holidays
        self._snapshot = {(y.country, y.subdivision, y.year): y.names for y in snapshot}
        self._of_site: dict[tuple[str, int], dict[dt.date, str]] = defaultdict(dict)
        self._of_place: dict[tuple[str, str, int], dict[dt.date, str]] = defaultdict(dict)
        for holiday in register.holidays.values():
            year = holiday.on.year
            if holiday.site:
                self._of_site[holiday.site, year][holiday.on] = holiday.name
            else:
                place = (holiday.country, holiday.subdivision, year)
                self._of_place[place][holiday.on] = holiday.name
        self._closures: dict[str, list[Closure]] = defaultdict(list)
        for closure in register.closures.values():
            if not _is_left(register, closure):
                self._closures[closure.site].append(closure)
        self._patterns: dict[str, list[tuple[dt.date, frozenset[int]]]] = defaultdict(list)
        for pattern in register.patterns.values():
            self._patterns[pattern.site].append((pattern.from_on, weekdays(pattern.open_days)))

    def calendar(self, site: Site, first_year: int, last_year: int) -> SiteCalendar:
        """One site's calendar, its holidays known from one year to another, both included."""
        holidays: dict[dt.date, str] = {}
        for year in range(first_year, last_year + 1):
            holidays.update(self._holidays(site, year))
        own = sorted(
            self._closures[site.site] + self._closures[""], key=lambda closure: closure.key
        )
        return SiteCalendar(
            site=site.site,
            weekly=((dt.date.min, weekdays(site.open_days)), *sorted(self._patterns[site.site])),
            holidays=holidays,
            closures=tuple(Spell(c.from_on, c.to_on, c.reason) for c in own if not c.open),
            openings=tuple(Spell(c.from_on, c.to_on, c.reason) for c in own if c.open),
        )

    def _holidays(self, site: Site, year: int) -> Names:
        of_site = self._of_site.get((site.site, year))
        if of_site is not None:
            return of_site
        place = (site.country, site.subdivision, year)
        of_place = self._of_place.get(place)
        if of_place is not None:
            return of_place
        if place not in self._snapshot:
            self._snapshot[place] = self._public_holidays.year(*place).names
        return self._snapshot[place]
