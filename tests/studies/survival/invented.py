"""Which fleet is it that has to survive? The same one on every run, as rows and as files.

Rows stand as a database of version 0001 holds them; the files say the same, so that a fleet loaded
today can be held against one that was upgraded. Spans (`to_on`) cover Monday to Friday of a week
without a holiday, so that nobody need know a calendar to say which days they mark.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

__all__ = ["BOOK", "SITES", "STORED_AT", "Invented", "Row", "entries", "invented", "write_files"]

Row = dict[str, Any]

STORED_AT = dt.datetime(2026, 3, 2, 12, 0, tzinfo=dt.UTC)
FIRST_ON = dt.date(2025, 9, 1)
SPAN_WEEKS = (dt.date(2025, 9, 8), dt.date(2025, 10, 20))
SITES = ("alder", "birch", "cedar", "dogwood")

BOOK = """\
[kind.microscope]
name = "Bench microscope"

[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces, top down"
each = "open-day"
source = "common practice, no source"
cautions = ["Unplug before any liquid comes near."]

[[kind.microscope.rule]]
task = "stand-check"
title = "Look the stand over"
each = "month"
source = "common practice, no source"

[[kind.microscope.rule]]
task = "annual-service"
title = "Service by the vendor"
every = "P1Y"
early = 45
grace = 15
source = "common practice, no source"
"""

_RENAMED = {"from_on": "from", "to_on": "to", "record_from_on": "record_from"}
_FILES = {
    "site": "sites",
    "weekly_pattern": "patterns",
    "holiday": "holidays",
    "closure": "closures",
    "unit": "units",
    "placement": "placements",
    "outage": "outages",
    "person": "people",
}
"""The tables of the register in the order in which they refer to each other, and their files."""


@dataclass(frozen=True, slots=True)
class Invented:
    """A fleet: rows of each table of the register, and the entries, oldest first a unit."""

    register: dict[str, list[Row]]
    entries: list[Row]


def invented(units: int, days: int) -> Invented:
    """So many units with so many days of marks, weekends left out."""
    numbers = [f"M-{n:03}" for n in range(1, units + 1)]
    register = {
        "site": [_site(name, place) for place, name in enumerate(SITES)],
        "weekly_pattern": [_row(site="birch", from_on=dt.date(2026, 1, 1), open_days="Mon Tue")],
        "holiday": [
            _row(
                site="alder",
                country="US",
                subdivision="NE",
                on=dt.date(2026, 5, 15),
                name="Fair day",
            )
        ],
        "closure": [
            _row(site=site, from_on=on, to_on=on, reason=reason, open=is_open)
            for site, on, reason, is_open in (
                ("", dt.date(2026, 1, 20), "snow", False),
                ("cedar", dt.date(2026, 1, 24), "open house", True),
            )
        ],
        "unit": [_unit(number, place) for place, number in enumerate(numbers)],
        "placement": [
            _row(property_number=number, site="dogwood", from_on=dt.date(2025, 12, 1))
            for number in numbers[2::7]
        ],
        "outage": [
            _row(
                property_number=number,
                from_on=dt.date(2025, 11, 3),
                to_on=dt.date(2025, 11, 10),
                reason="lamp",
            )
            for number in numbers[1::9]
        ],
        "person": [_person("lead@alder.example", "site lead", site="alder"),
                   _person("north@bench.example", "consultant", region="North")],
    }  # fmt: skip
    return Invented(register, list(entries(numbers, FIRST_ON, days)))


def _row(**cells: object) -> Row:
    return cells


def _site(name: str, place: int) -> Row:
    return _row(
        site=name,
        name=f"{name.title()} Laboratory",
        county=f"{name.title()} County",
        region=("North", "South")[place % 2],
        country="US",
        subdivision=("NE", "KS")[place % 2],
        time_zone="America/Chicago",
        open_days="Mon Tue Wed Thu Fri",
        latitude=41.25 + place,
        longitude=-95.9,
        postal_code="",
        lead_email="lead@alder.example" if name == "alder" else "",
    )


def _unit(number: str, place: int) -> Row:
    return _row(
        property_number=number,
        kind="microscope",
        manufacturer="Exemplar",
        model="Größe 1" if place % 2 else "M1",
        serial=f"{place:04}",
        site=SITES[place % len(SITES)],
        in_service_on=dt.date(2024, 1, 2),
        retired_on=None,
        record_from_on=FIRST_ON,
    )


def _person(email: str, role: str, site: str = "", region: str = "") -> Row:
    return _row(
        email=email,
        name="Robin Moss",
        role=role,
        site=site,
        region=region,
        language="en",
        time_zone="",
        deputy="",
    )


def entries(numbers: list[str], first_on: dt.date, days: int) -> Iterator[Row]:
    """The entries of some units from a day on, unit by unit."""
    for number in numbers:
        yield _entry(number, "annual-service", first_on - dt.timedelta(days=120), initials="OV")
        for place in range(days):
            on = first_on + dt.timedelta(days=place)
            if on.weekday() > 4:
                continue
            if on in SPAN_WEEKS:
                yield _entry(number, "optics", on, to_on=on + dt.timedelta(days=4), kind="span")
            at = dt.datetime.combine(on, dt.time(21, place % 60), dt.UTC) if place % 3 else None
            yield _entry(number, "optics", on, initials="GR", recorded_at=at)
            if on.day == 3:
                yield _entry(number, "stand-check", on, mark="unused", note="„still“\n2nd line")
            if place % 31 == 30:
                key = f"{number}/optics/{on}/day"
                yield _entry(number, "optics", on, kind="fix", mark=None, strikes=key, why="slip")


def _entry(number: str, task: str, on: dt.date, kind: str = "day", **cells: object) -> Row:
    plain = {"to_on": None, "mark": "done", "recorded_at": None}
    empty = dict.fromkeys(("initials", "note", "reading", "strikes", "why"), "")
    key = f"{number}/{task}/{on}/{kind}"
    return {"property_number": number, "key": key, "task": task, "on": on} | plain | empty | cells


def write_files(fleet: Invented, folder: Path, *, only_entries: bool = False) -> Path:
    """Write a fleet as the files of design 7."""
    folder.mkdir(parents=True, exist_ok=True)
    if not only_entries:
        (folder / "rules.toml").write_text(BOOK, encoding="utf-8", newline="")
        for table, name in _FILES.items():
            _write(folder / f"{name}.csv", fleet.register[table])
    _write(folder / "entries.csv", fleet.entries)
    return folder


def _write(path: Path, rows: list[Row]) -> None:
    if not rows:
        return
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(_RENAMED.get(name, name) for name in rows[0])
        writer.writerows([_cell(value) for value in row.values()] for row in rows)


def _cell(value: object) -> object:
    if value is None or value is False:
        return ""
    if isinstance(value, dt.datetime):
        return value.isoformat()
    return "yes" if value is True else value
