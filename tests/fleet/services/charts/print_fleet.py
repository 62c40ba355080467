"""A small fleet whose charts are printed, and printed again after something has changed."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, cast

from fleet.domain.prints import Print
from fleet.domain.records import (
    Closure,
    Outage,
    Pattern,
    Placement,
    RegisterRecord,
    Site,
    Unit,
)
from fleet.domain.register import Change
from fleet.services.charts.facts import PrintedChart, YearChart
from fleet.services.charts.prints import Laid, keep_prints, prints_of
from fleet.services.charts.status import MissingChart, missing_charts
from fleet.services.charts.years import ChartQuestion, year_charts
from fleet.services.kept import rebuild
from fleet.services.ports import Record, Stamp
from fleet.services.questions import Narrow, Question
from tests.fakes import FakeRecord
from tests.reference.bridge import NoPublicHolidays

__all__ = ["BOOK", "JULY_1", "NOW", "OnePage", "PrintFleet", "rule"]

JULY_1 = dt.date(2026, 7, 1)
NO_NARROW = Narrow()
NOW = dt.datetime(2026, 7, 1, 15, tzinfo=dt.UTC)
"""Ten in the morning of 1 July, a Wednesday, in Chicago."""
STAMP = Stamp(NOW, "command:noor", "command")


def rule(task: str, often: str, **fields: str) -> str:
    """A rule of microscopes as the rule book writes it; fields as TOML."""
    words = {
        "task": f'"{task}"',
        "title": f'"Do {task}"',
        "source": '"common practice, no source"',
    }
    lines = [f"{name} = {value}" for name, value in {**words, **fields}.items()]
    return "\n".join(["[[kind.microscope.rule]]", *lines, often, ""])


BOOK = (rule("optics", 'each = "open-day"'), rule("stand-check", 'each = "month"'))


class OnePage:
    """A `Layout` that puts every chart on one page."""

    version = "1"

    def laid(self, chart: YearChart) -> Laid:
        return Laid(1, "{}")


@dataclass
class PrintFleet:
    """Alder and Birch (Elm lies in another time zone and region), and microscope A-1 at Alder."""

    record: FakeRecord = field(default_factory=FakeRecord)
    drawn: Iterator[str] = field(default_factory=lambda: iter(f"PRINT{n:03d}" for n in range(999)))

    def __post_init__(self) -> None:
        for site, county, region, zone in (
            ("alder", "Adams", "North", "America/Chicago"),
            ("birch", "Boone", "North", "America/Chicago"),
            ("elm", "Sioux", "West", "America/Denver"),
        ):
            made = Site(
                site=site,
                name=f"{site.title()} Laboratory",
                county=county,
                region=region,
                country="US",
                subdivision="NE",
                time_zone=zone,
                open_days="Mon Tue Wed Thu Fri",
            )
            self.write(made)
        self.unit("A-1")
        self.book(*BOOK)

    def write(self, *records: RegisterRecord) -> None:
        """Write records, over what stands under their keys."""
        register = self.record.register()
        tables = [getattr(register, f.name) for f in dataclasses.fields(register)]
        known = {(type(r), r.key): r for t in tables if isinstance(t, dict) for r in t.values()}
        changes = [
            Change(old=known.get((type(one), one.key)), new=one, initial=False) for one in records
        ]
        self.record.change(changes, STAMP)

    def unit(self, property_number: str, **changes: Any) -> None:
        given = {
            "property_number": property_number,
            "kind": "microscope",
            "manufacturer": "Exemplar",
            "model": "M1",
            "serial": "1",
            "site": "alder",
            "in_service_on": dt.date(2025, 1, 6),
        }
        self.write(Unit(**{**given, **changes}))

    def book(self, *rules: str) -> None:
        head = '[kind.microscope]\nname = "Bench microscope"\n\n'
        timer = (
            '[kind.timer]\nname = "Timer"\n\n[[kind.timer.rule]]\ntask = "verification"\n'
            'title = "Verify"\nevery = "P1Y"\nsource = "common practice, no source"\n'
        )
        self.record.add_book(head + "\n".join(rules) + timer, "0" * 64, False, STAMP)

    def closed(self, from_on: dt.date, to_on: dt.date, reason: str, **how: Any) -> None:
        given = {"site": "alder", "from_on": from_on, "to_on": to_on, "reason": reason}
        self.write(Closure(**{**given, **how}))

    def moves(self, site: str, from_on: dt.date, unit: str = "A-1") -> None:
        self.write(Placement(property_number=unit, site=site, from_on=from_on))

    def out(self, from_on: dt.date, to_on: dt.date | None, reason: str, unit: str = "A-1") -> None:
        self.write(Outage(property_number=unit, from_on=from_on, to_on=to_on, reason=reason))

    def opens(self, from_on: dt.date, open_days: str) -> None:
        self.write(Pattern(site="alder", from_on=from_on, open_days=open_days))

    def chart(self, number: str = "A-1", site: str = "alder", year: int = 2026) -> YearChart:
        """The only chart of a unit, site and year, as seen on 1 July 2026."""
        rebuild(self.record, list(self.record.ids.values()), NoPublicHolidays())
        narrow = Narrow(sites=(site,))
        asked = ChartQuestion(year=year, now=NOW, on=JULY_1, numbers=(number,), narrow=narrow)
        (chart,) = year_charts(self.record, NoPublicHolidays(), asked).charts
        return chart

    def print(
        self,
        *charts: YearChart,
        known_at: dt.datetime | None = None,
        now: dt.datetime = NOW,
    ) -> list[PrintedChart]:
        """Print charts, by default that of A-1, and keep the prints."""
        earlier = self.record.register().prints.values()
        number = self.drawn.__next__
        made = prints_of(
            charts or [self.chart()], earlier, OnePage(), number, "letter", known_at, now
        )
        keep_prints(cast("Record", self.record), made, STAMP)
        return made

    def missing(
        self,
        on: dt.date | None = JULY_1,
        year: int | None = None,
        known_at: dt.datetime | None = None,
        now: dt.datetime = NOW,
        narrow: Narrow = NO_NARROW,
    ) -> list[MissingChart]:
        question = Question(now=now, on=on, known_at=known_at, narrow=narrow)
        record = cast("Record", self.record)
        return missing_charts(record, NoPublicHolidays(), question, year)

    def prints(self) -> list[Print]:
        return list(self.record.register().prints.values())
