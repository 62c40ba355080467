"""Two invented sites, a microscope at one, on a record: for the acts of a unit's life."""

from __future__ import annotations

import datetime as dt
from hashlib import sha256

from fleet.domain.records import Entry, Mark, Person, RegisterRecord, Role, Site, Unit
from fleet.domain.register import Change
from fleet.services.kept import rebuild
from fleet.services.ports import Record, Stamp
from tests.reference.bridge import NoPublicHolidays

__all__ = ["ALDER", "BIRCH", "HOLIDAYS", "NOON", "SCOPE", "STAMP", "at", "day", "filled", "marked"]

NOON = dt.datetime(2026, 3, 4, 18, tzinfo=dt.UTC)
"""Wednesday 4 March 2026, noon in Chicago."""
STAMP = Stamp(NOON, "command:alder", "command")
HOLIDAYS = NoPublicHolidays()

BOOK = """
[kind.microscope]
name = "Bench microscope"
[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces"
each = "open-day"
source = "common practice, no source"
[[kind.microscope.rule]]
task = "service"
title = "Service by the vendor"
every = "P1Y"
early = 30
grace = 10
vendor = true
source = "common practice, no source"
[[kind.microscope.rule]]
task = "alignment"
title = "Check the alignment"
every = "P6M"
due_after = ["moved", "repaired"]
source = "common practice, no source"
[[kind.microscope.rule]]
task = "inventory"
title = "Count it"
every = "P1Y"
anchor = 2026-01-15
source = "common practice, no source"
[[kind.microscope.rule]]
task = "lamp-check"
title = "Check the lamp"
each = "month"
stops_use = true
source = "common practice, no source"
"""


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def site(name: str, county: str) -> Site:
    return Site(
        site=name,
        name=f"{name.title()} Laboratory",
        county=county,
        region="West",
        country="US",
        subdivision="NE",
        time_zone="America/Chicago",
        open_days="Mon Tue Wed Thu Fri",
        lead_email=f"lead@{name}.example",
    )


def at(on: str) -> Stamp:
    """The stamp of noon on another day."""
    return Stamp(dt.datetime.combine(day(on), dt.time(18), dt.UTC), STAMP.by, STAMP.source)


ALDER, BIRCH = site("alder", "Adams"), site("birch", "Boone")
SCOPE = Unit(
    property_number="A-1",
    kind="microscope",
    manufacturer="Exemplar",
    model="M1",
    serial="7",
    site="alder",
    in_service_on=day("2026-01-05"),
)
NOOR = Person(email="noor@bench.example", name="Noor", role=Role.CONSULTANT, region="West")
LEE = Person(email="lead@birch.example", name="Lee", role=Role.SITE_LEAD, site="birch")


def filled(record: Record, *more: RegisterRecord) -> Record:
    """The record with both sites, the microscope at alder, two people and `more`."""
    book = sha256(BOOK.encode()).hexdigest()
    record.add_book(BOOK, book, True, at("2026-01-02"))
    first = (ALDER, BIRCH, SCOPE, NOOR, LEE, *more)
    changes = [Change(old=None, new=one, initial=True) for one in first]
    record.change(changes, at("2026-01-02"))
    return record


def marked(record: Record, task: str, on: str, number: str = "A-1") -> str:
    """Put a mark on the record as it would have been on that day; answers its key."""
    key = f"{number}/{task}/{on}/1"
    entry = Entry(key=key, property_number=number, task=task, on=day(on), mark=Mark.DONE)
    record.append([entry], at(on))
    rebuild(record, [record.unit_ids()[number]], HOLIDAYS)
    return key
