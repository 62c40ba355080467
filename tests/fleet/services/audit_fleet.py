"""Two sites, two units and a month without a flaw, for findings to be planted in.

Alder is open Monday to Friday, Birch on Wednesdays; both lie in Chicago's time zone. Microscope M-1
has a mark each open day of March 2026, a centrifuge C-1 a weekly check and two readings a day, all
recorded at four in the afternoon of their day.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, cast
from zoneinfo import ZoneInfo

from fleet.domain.answers import FindingRow
from fleet.domain.records import Closure, Entry, Mark, Outage, Placement, RegisterRecord, Site, Unit
from fleet.domain.register import Change
from fleet.services.findings import finding_rows
from fleet.services.kept import rebuild
from fleet.services.ports import Record, Stamp
from fleet.services.questions import Narrow, Question
from tests.fakes import FakeRecord
from tests.reference.bridge import NoPublicHolidays

__all__ = ["AFTER", "FIRST", "AuditFleet", "at", "march"]

FIRST, AFTER = dt.date(2026, 3, 2), dt.date(2026, 4, 1)
ZONE = ZoneInfo("America/Chicago")
_LOADED = dt.datetime(2026, 2, 1, tzinfo=dt.UTC)

BOOK = """
[kind.microscope]
name = "Bench microscope"
[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces"
each = "open-day"
source = "common practice, no source"
[[kind.microscope.rule]]
task = "annual-service"
title = "Service by the vendor"
every = "P1Y"
source = "common practice, no source"

[kind.centrifuge]
name = "Centrifuge"
[[kind.centrifuge.rule]]
task = "speed"
title = "Read the speed"
each = "open-day"
times = 2
source = "common practice, no source"
[[kind.centrifuge.rule]]
task = "rotor"
title = "Look at the rotor"
each = "week"
source = "common practice, no source"
"""


def march(day: int) -> dt.date:
    """A day of March 2026."""
    return dt.date(2026, 3, day)


def at(on: dt.date, hour: int = 16, minute: int = 0, second: int = 0) -> dt.datetime:
    """An instant by the sites' clocks."""
    return dt.datetime(on.year, on.month, on.day, hour, minute, second, tzinfo=ZONE)


def _weekdays() -> Iterator[dt.date]:
    for day in range(2, 32):
        if march(day).weekday() < 5:
            yield march(day)


def _site(name: str, county: str, region: str, open_days: str) -> Site:
    return Site(
        site=name,
        name=name,
        county=county,
        region=region,
        country="US",
        subdivision="NE",
        time_zone="America/Chicago",
        open_days=open_days,
    )


def _unit(number: str, kind: str, **fields: Any) -> Unit:
    return Unit(
        property_number=number,
        kind=kind,
        manufacturer="Northfield",
        model="N1",
        serial="",
        site="alder",
        in_service_on=FIRST,
        **fields,
    )


@dataclass
class AuditFleet:
    """The fleet as it is put together; flaws are planted by the methods."""

    record: FakeRecord = field(default_factory=FakeRecord)
    left_out: list[tuple[str, dt.date]] = field(default_factory=list)

    @classmethod
    def clean(cls, *left_out: tuple[str, dt.date], **unit_fields: Any) -> AuditFleet:
        """The month without a flaw but for marks left out (task, day); fields are of M-1.

        Left out is one mark of the day each time a day is named.
        """
        made = cls(left_out=list(left_out))
        made.know(_site("alder", "Cherry", "West", "Mon Tue Wed Thu Fri"))
        made.know(_site("birch", "Grant", "East", "Wed"))
        made.know(_unit("M-1", "microscope", **unit_fields), _unit("C-1", "centrifuge"))
        made.record.add_book(BOOK, "", True, Stamp(_LOADED, "bench", "file"))
        for on in _weekdays():
            made.plain("M-1", "optics", on)
            made.plain("C-1", "speed", on)
            made.plain("C-1", "speed", on)
            if on.weekday() == 0:
                made.plain("C-1", "rotor", on)
        return made

    def know(self, *records: RegisterRecord) -> None:
        """Add sites, units, moves, outages or closures to the register."""
        stamp = Stamp(_LOADED, "lead", "file")
        self.record.change([Change(old=None, new=new, initial=True) for new in records], stamp)

    def learn(
        self,
        old: RegisterRecord | None,
        new: RegisterRecord | None,
        stored: dt.datetime,
        *,
        initial: bool = False,
    ) -> None:
        """Change the register at an instant."""
        change = Change(old=old, new=new, initial=initial)
        self.record.change([change], Stamp(stored, "file:lead", "file"))

    def away(self, from_on: dt.date, to_on: dt.date | None) -> None:
        """M-1 is out of service."""
        outage = Outage(property_number="M-1", from_on=from_on, to_on=to_on, reason="repair")
        self.know(outage)

    def moved(self, number: str, on: dt.date) -> None:
        """A unit moves to Birch."""
        self.know(Placement(property_number=number, site="birch", from_on=on))

    def closed(self, on: dt.date, reason: str) -> None:
        """Alder is closed on a day."""
        self.know(Closure(site="alder", from_on=on, to_on=on, reason=reason))

    def plain(self, number: str, task: str, on: dt.date) -> None:
        """A mark as it should be, unless it is left out."""
        if (task, on) in self.left_out:
            self.left_out.remove((task, on))
        else:
            key = f"{number}/{task}/{on}/{self.record.lengths[number]}"
            self.mark(key, on, number=number, task=task)

    def mark(
        self,
        key: str,
        on: dt.date,
        mark: Mark | None = Mark.DONE,
        *,
        number: str = "M-1",
        task: str = "optics",
        recorded: dt.datetime | None = None,
        source: str = "command",
        initials: str = "GR",
        **fields: Any,
    ) -> None:
        """Append an entry; recorded is when the program stored it (None: on its day, at four)."""
        entry = Entry(
            key=key,
            property_number=number,
            task=task,
            on=on,
            mark=mark,
            initials=initials,
            **fields,
        )
        self.record.append([entry], Stamp(recorded or at(on), "bench", source))

    def answer(
        self,
        finding: str | None = None,
        *,
        from_on: dt.date = dt.date(2000, 1, 1),
        to_on: dt.date = dt.date(2100, 1, 1),
        on: dt.date | None = AFTER,
        known_at: dt.datetime | None = None,
        narrow: Narrow | None = None,
    ) -> list[FindingRow]:
        """What the audit says on the first of April, unless another day is given."""
        record = cast("Record", self.record)
        rebuild(record, list(self.record.ids.values()), NoPublicHolidays())
        return self.asked_of(
            record,
            finding,
            from_on=from_on,
            to_on=to_on,
            on=on,
            known_at=known_at,
            narrow=narrow,
        )

    def asked_of(
        self,
        record: Record,
        finding: str | None = None,
        *,
        from_on: dt.date = dt.date(2000, 1, 1),
        to_on: dt.date = dt.date(2100, 1, 1),
        on: dt.date | None = AFTER,
        known_at: dt.datetime | None = None,
        narrow: Narrow | None = None,
    ) -> list[FindingRow]:
        """What the audit says of a record as it is."""
        question = Question(now=at(AFTER), on=on, known_at=known_at, narrow=narrow or Narrow())
        return finding_rows(record, NoPublicHolidays(), from_on, to_on, question, finding)

    def rows(self, finding: str | None = None, **asked: Any) -> list[FindingRow]:
        """The rows of an answer."""
        return self.answer(finding, **asked)

    def told(self, **asked: Any) -> list[tuple[str, str, dt.date | None, str | None]]:
        """Finding, task, day (of a gap the closing day) and keys of each row."""
        return [(r.finding, r.task, r.on or r.closes, r.entries) for r in self.rows(**asked)]
