"""One invented site, one unit of an invented kind, and its chart of a year."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import replace
from hashlib import sha256
from typing import Any

from fleet.domain.records import Entry, Mark, RegisterRecord, Site, Unit
from fleet.domain.register import Change
from fleet.services.charts.facts import ChartRow, RowRole, YearChart
from fleet.services.charts.years import ChartQuestion, ChartsAnswer, year_charts
from fleet.services.kept import rebuild
from fleet.services.ports import PublicHolidays, Stamp
from fleet.services.questions import Narrow
from tests.fakes import FakeRecord
from tests.reference.bridge import NoPublicHolidays

__all__ = [
    "ALDER", "BIRCH", "DAILY", "MONTHLY", "NOON", "WEEKLY", "YEARLY", "a_fleet", "a_rule", "a_unit",
    "answered", "chart_of", "day", "marked", "on_days", "row", "signs", "text_on",
]  # fmt: skip

NOON = dt.datetime(2026, 7, 1, 18, tzinfo=dt.UTC)
"""Wednesday 1 July 2026, noon in Chicago."""
FILE = Stamp(dt.datetime(2020, 1, 2, tzinfo=dt.UTC), "file", "file")
HOLIDAYS = NoPublicHolidays()


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def a_rule(task: str, **fields: Any) -> str:
    """A rule as TOML, of the kind stirrer unless another is named; `from` is written from_."""
    kind = fields.pop("kind", "stirrer")
    fields = {"title": f"Do the {task}", "source": "common practice, no source", **fields}
    lines = [f"{name.rstrip('_')} = {_toml(value)}" for name, value in fields.items()]
    return "\n".join([f"[[kind.{kind}.rule]]", f'task = "{task}"', *lines])


def _toml(value: object) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    return repr(value) if isinstance(value, int | list) else str(value)


DAILY = a_rule("wipe", each="open-day")
WEEKLY = a_rule("scrub", each="week")
MONTHLY = a_rule("grease", each="month")
YEARLY = a_rule("service", every="P1Y", early=30)


def a_site(name: str, county: str, region: str = "West", **fields: Any) -> Site:
    site = Site(
        site=name, name=f"{name.title()} Laboratory", county=county, region=region, country="US",
        subdivision="NE", time_zone="America/Chicago", open_days="Mon Tue Wed Thu Fri",
    )  # fmt: skip
    return replace(site, **fields)


ALDER, BIRCH = a_site("alder", "Cherry"), a_site("birch", "Boone", "East")


def a_unit(number: str = "A-1", **fields: Any) -> Unit:
    unit = Unit(
        property_number=number, kind="stirrer", manufacturer="Exemplar", model="M1", serial="7",
        site="alder", in_service_on=day("2024-03-04"),
    )  # fmt: skip
    return replace(unit, **fields)


def a_fleet(
    *rules: str,
    records: Iterable[RegisterRecord] = (),
    units: Sequence[Unit] = (),
    sites: Sequence[Site] = (ALDER, BIRCH),
) -> FakeRecord:
    """Alder in Cherry, Birch in Boone, and stirrer A-1 at Alder unless other units are given."""
    record = FakeRecord()
    kinds = dict.fromkeys(rule.split("\n")[0][7:-7] for rule in rules)
    heads = [f'[kind.{kind}]\nname = "Invented {kind}"' for kind in kinds]
    book = "\n\n".join([*heads, *rules])
    record.add_book(book, sha256(book.encode()).hexdigest(), True, FILE)
    loaded = [*sites, *(units or [a_unit()]), *records]
    record.change([Change(old=None, new=one, initial=True) for one in loaded], FILE)
    return record


def marked(
    record: FakeRecord,
    task: str,
    *days: str,
    to: str = "",
    mark: Mark | None = Mark.DONE,
    number: str = "A-1",
    at: dt.datetime = FILE.at,
    **fields: Any,
) -> str:
    """Mark some days; answers the key of the last entry."""
    key = ""
    for on in days:
        key = f"{number}/{task}/{on}/{len(record.written)}"
        to_on = day(to) if to else None
        entry = Entry(
            key=key, property_number=number, task=task, on=day(on), to_on=to_on, mark=mark, **fields
        )
        record.append([entry], Stamp(at, "file", "file"))
    return key


def answered(
    record: FakeRecord,
    year: int = 2026,
    on: str | None = "2026-07-01",
    *,
    now: dt.datetime = NOON,
    known_at: dt.datetime | None = None,
    numbers: tuple[str, ...] = (),
    holidays: PublicHolidays = HOLIDAYS,
    **narrow: tuple[str, ...],
) -> ChartsAnswer:
    """The charts as asked on Wednesday 1 July 2026."""
    rebuild(record, list(record.ids.values()), holidays)
    asked = ChartQuestion(
        year=year,
        now=now,
        on=day(on) if on else None,
        known_at=known_at,
        numbers=numbers,
        narrow=Narrow(**narrow),
    )
    return year_charts(record, holidays, asked)


def chart_of(record: FakeRecord, year: int = 2026, **asked: Any) -> YearChart:
    """The only chart there is."""
    (chart,) = answered(record, year, **asked).charts
    return chart


def row(chart: YearChart, task: str, turn: int = 1, role: RowRole | None = None) -> ChartRow:
    """The only row of a task and turn ('' for initials), of a role where several have it."""
    (found,) = [
        one
        for one in chart.rows
        if (one.task, one.turn) == (task, turn) and role in (None, one.role)
    ]
    return found


def signs(chart: YearChart, task: str, turn: int = 1, role: RowRole | None = None) -> str:
    return "".join(face.sign for face in row(chart, task, turn, role).faces)


def on_days(chart: YearChart, task: str, first: str, last: str, turn: int = 1) -> str:
    """The signs of a row of days from one day to another, both included."""
    begin = (day(first) - dt.date(chart.year, 1, 1)).days
    end = (day(last) - dt.date(chart.year, 1, 1)).days + 1
    return signs(chart, task, turn)[begin:end]


def text_on(chart: YearChart, task: str, on: str, turn: int = 1) -> str:
    """What is written in a cell of a row of days."""
    return row(chart, task, turn).faces[(day(on) - dt.date(chart.year, 1, 1)).days].text
