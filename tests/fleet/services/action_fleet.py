"""A site with a refrigerator, a balance and a pipette, at noon of a Wednesday, in memory."""

from __future__ import annotations

import datetime as dt

from fleet.domain.records import Entry, Mark, RegisterRecord, Site, Unit
from fleet.domain.register import Change
from fleet.services.ports import Record, Stamp
from tests.reference.bridge import NoPublicHolidays

__all__ = ["BENCH", "BOOK", "HOLIDAYS", "NOON", "WEDNESDAY", "entry", "fill", "november"]

NOON = dt.datetime(2026, 11, 25, 18, tzinfo=dt.UTC)
"""Noon in Chicago."""
WEDNESDAY = dt.date(2026, 11, 25)
HOLIDAYS = NoPublicHolidays()
BENCH = Stamp(NOON, "command:alder", "command")

BOOK = """
[kind.refrigerator]
name = "Refrigerator"
[[kind.refrigerator.rule]]
task = "temperature"
title = "Read the temperature"
each = "open-day"
range = { low = 2.0, high = 8.0, unit = "C" }
source = "CDC vaccine storage and handling toolkit"
cautions = ["Keep the stock cold elsewhere."]

[kind.balance]
name = "Balance"
[[kind.balance.rule]]
task = "check-weight"
title = "Weigh the check weight"
each = "open-day"
stops_use = true
until = 2026-11-15
range = { low = 99.0, high = 101.0, unit = "g" }
source = "common practice, no source"
[[kind.balance.rule]]
task = "check-weight"
title = "Weigh the check weight"
each = "open-day"
stops_use = true
from = 2026-11-16
range = { low = 99.9, high = 100.1, unit = "g" }
source = "common practice, no source"
cautions = ["Forceps only."]

[kind.pipette]
name = "Pipette"
[[kind.pipette.rule]]
task = "leak-check"
title = "Check for leaks"
every = "P1M"
stops_use = true
source = "common practice, no source"
[[kind.pipette.rule]]
task = "cleaning"
title = "Wipe it"
each = "open-day"
source = "common practice, no source"
"""

SITE = Site(
    site="alder",
    name="Alder Creek",
    county="Cherry",
    region="West",
    country="US",
    subdivision="NE",
    time_zone="America/Chicago",
    open_days="Mon Tue Wed Thu Fri",
)


def _unit(number: str, kind: str) -> Unit:
    return Unit(
        property_number=number,
        kind=kind,
        manufacturer="Invented Works",
        model="X-1",
        serial="7",
        site="alder",
        in_service_on=dt.date(2026, 11, 2),
    )


def fill(record: Record) -> None:
    """Put the site, its units R-1, B-1, P-1 and the book on a record."""
    first = Stamp(NOON, "file:test", "file")
    units = (_unit("R-1", "refrigerator"), _unit("B-1", "balance"), _unit("P-1", "pipette"))
    register: list[RegisterRecord] = [SITE, *units]
    record.change([Change(old=None, new=new, initial=True) for new in register], first)
    record.add_book(BOOK, "0" * 64, True, first)


def november(day: int) -> dt.date:
    """A day of November 2026; the 2nd is a Monday."""
    return dt.date(2026, 11, day)


def entry(
    unit_and_task: str, day: int, reading: str = "", *, mark: Mark = Mark.DONE, key: str = ""
) -> Entry:
    """A mark of that day of November; unit_and_task as 'R-1 temperature'."""
    number, task = unit_and_task.split()
    return Entry(
        key=key,
        property_number=number,
        task=task,
        on=november(day),
        mark=mark,
        initials="QZ",
        reading=reading,
    )
