"""Which days are public holidays of a country or subdivision, as looked up today (design 4.2)?

The `holidays` library, public category, observed on, with the corrections of
`holiday_corrections.csv` on top: a row there adds a day (kept yes) or takes it out (kept no). Its
`on` is a date, or a rule such as '4th Thu Nov +1' (the day after the fourth Thursday in November;
'last Mon May' for the last), and its `source` says where that stands.
"""

from __future__ import annotations

import calendar
import csv
import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.metadata import version

from fleet.errors import NotFound
from fleet.files.cells import CellError
from fleet.files.places import country_code, subdivision_code
from fleet.services.ports import HolidayYear

__all__ = ["Correction", "PublicHolidayCalendar", "shipped_corrections"]

_RULE = re.compile(r"(1st|2nd|3rd|4th|last) (\w{3}) (\w{3})(?: ([+-]\d+))?")
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True)
class Correction:
    """One row of the corrections: a day that a place keeps (kept yes) or does not (kept no)."""

    country: str
    subdivision: str
    on: str
    kept: str
    name: str
    source: str

    def day(self, year: int) -> dt.date | None:
        """The day of the correction in a year, if it has one."""
        rule = _RULE.fullmatch(self.on)
        if rule is None:
            on = dt.date.fromisoformat(self.on)
            return on if on.year == year else None
        which, weekday, month = rule[1], _WEEKDAYS.index(rule[2]), _MONTHS.index(rule[3]) + 1
        days = [
            day
            for day in calendar.Calendar().itermonthdates(year, month)
            if day.month == month and day.weekday() == weekday
        ]
        place = -1 if which == "last" else int(which[0]) - 1
        return days[place] + dt.timedelta(days=int(rule[4] or 0))


@cache
def shipped_corrections() -> tuple[Correction, ...]:
    """The corrections that come with the program."""
    table = resources.files("fleet.files").joinpath("holiday_corrections.csv")
    rows = csv.DictReader(table.read_text(encoding="utf-8").splitlines())
    return tuple(Correction(**row) for row in rows)


class PublicHolidayCalendar:
    """Implements `fleet.services.ports.PublicHolidays`."""

    def __init__(self, corrections: tuple[Correction, ...] | None = None) -> None:
        self._corrections = shipped_corrections() if corrections is None else corrections

    def knows(self, country: str, subdivision: str) -> bool:
        """Say whether there is such a place, spelled by its codes."""
        try:
            return country_code(country) == country and (
                not subdivision or subdivision_code(country, subdivision) == subdivision
            )
        except CellError:
            return False

    def year(self, country: str, subdivision: str, year: int) -> HolidayYear:
        """The holidays that fall in a year, observed ones included; raises NotFound."""
        import holidays

        if not self.knows(country, subdivision):
            place = f"{country} {subdivision}".strip()
            raise NotFound("place with known holidays", place, "write codes such as US and NE")
        found = holidays.country_holidays(
            country,
            subdiv=subdivision or None,
            years=(year - 1, year, year + 1),
            expand=False,
            observed=True,
        )
        names = {on: str(name) for on, name in sorted(found.items()) if on.year == year}
        applied = 0
        for correction in self._of(country, subdivision):
            if (on := correction.day(year)) is not None:
                applied += 1
                names.pop(on, None)
                if correction.kept == "yes":
                    names[on] = correction.name
        origin = f"holidays {_version()}, {applied} shipped corrections"
        return HolidayYear(country, subdivision, year, dict(sorted(names.items())), origin)

    def _of(self, country: str, subdivision: str) -> Iterator[Correction]:
        for correction in self._corrections:
            if (correction.country, correction.subdivision) == (country, subdivision):
                yield correction


@cache
def _version() -> str:
    """The library's version; to look it up takes milliseconds."""
    return version("holidays")
