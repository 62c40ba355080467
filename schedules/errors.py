"""What `schedules` can refuse.

ScheduleError
├── RuleError          a rule, an interval or a book whose words contradict each other
├── BookError          a rule book that cannot be used; carries every fault that was found
├── OutsideCalendar    a day beyond the years a calendar is true for
└── NoOpenDay          a site with no open day near enough
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

__all__ = ["BookError", "NoOpenDay", "OutsideCalendar", "RuleError", "ScheduleError"]


class ScheduleError(Exception):
    """The base of everything this package refuses."""


class RuleError(ScheduleError):
    """A rule that cannot be followed: where it stands, what is wrong, how to mend it."""

    def __init__(self, where: str, problem: str, mend: str) -> None:
        self.where, self.problem, self.mend = where, problem, mend
        super().__init__(f"{where}: {problem}; {mend}")


class BookError(ScheduleError):
    """A rule book that cannot be used; `faults` has every fault, its message one line a fault."""

    def __init__(self, faults: Sequence[RuleError]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class OutsideCalendar(ScheduleError):
    """A day beyond the years a calendar was built for."""

    def __init__(self, site: str, on: dt.date, first_on: dt.date, last_on: dt.date) -> None:
        self.site, self.on, self.first_on, self.last_on = site, on, first_on, last_on
        super().__init__(
            f"site {site}: {on} lies outside its calendar of {first_on} to {last_on};"
            " check the unit's dates and the rule's interval"
        )


class NoOpenDay(ScheduleError):
    """A site that stays closed for the whole search around a day (design 4.2)."""

    def __init__(self, site: str, from_on: dt.date, searched_days: int) -> None:
        self.site, self.from_on, self.searched_days = site, from_on, searched_days
        super().__init__(
            f"site {site}: no open day within {searched_days} days of {from_on};"
            " check its closures and its weekly pattern"
        )
