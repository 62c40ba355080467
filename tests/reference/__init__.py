"""The rules of computation, literally: day by day, one occurrence at a time (design section 4).

Slow on purpose, written apart from the program, and sharing no code with it. `status`, `gaps` and
`steps` answer; `tests.reference.files.write_folder` writes a fleet as files.
"""

from tests.reference.answers import RefAnswer, RefError, RefGap, RefRow, gaps, status, steps
from tests.reference.calendars import RefCalendar, RefNoOpenDay
from tests.reference.records import (
    HOLIDAY_YEARS,
    RefClosure,
    RefEntry,
    RefEvery,
    RefFleet,
    RefHoliday,
    RefOutage,
    RefPattern,
    RefPlacement,
    RefRule,
    RefSite,
    RefUnit,
    new_years_days,
)
from tests.reference.timed import RefSteps

__all__ = [
    "HOLIDAY_YEARS",
    "RefAnswer",
    "RefCalendar",
    "RefClosure",
    "RefEntry",
    "RefError",
    "RefEvery",
    "RefFleet",
    "RefGap",
    "RefHoliday",
    "RefNoOpenDay",
    "RefOutage",
    "RefPattern",
    "RefPlacement",
    "RefRow",
    "RefRule",
    "RefSite",
    "RefSteps",
    "RefUnit",
    "gaps",
    "new_years_days",
    "status",
    "steps",
]
