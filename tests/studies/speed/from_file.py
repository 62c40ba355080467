"""How long does a fleet take from its file to the rows of today?

10,000 units of three kinds with eight rules each, 120 sites, two and a half years of kept marks in
a SQLite file. The time begins with opening the store and ends with all rows as values. It is taken
in a process of its own, as a command would be: `python -m tests.studies.speed.from_file`.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import numpy as np

from fleet.domain.records import Outage, RegisterRecord, Site, Unit
from fleet.domain.register import Change
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.services.due import due_rows
from fleet.services.kept import kept_of
from fleet.services.ports import Stamp
from fleet.services.questions import DueAnswer, Question
from fleet.storage import create, open_store
from fleet.storage.record import SqlRecord
from schedules.dates import day_of
from schedules.marks import MarkedYears
from tests.studies.speed.interleaved import milliseconds

__all__ = ["seconds", "seconds_alone"]

NOW = dt.datetime(2026, 7, 15, 15, 0, tzinfo=dt.UTC)
FROM, UNTIL = day_of(dt.date(2024, 1, 15)), day_of(dt.date(2026, 7, 14))
STAMP = Stamp(at=NOW, by="study", source="file")
KINDS = ("centrifuge", "incubator", "microscope")
RULES = {
    "wipe": 'each = "open-day"',
    "log": 'each = "week"',
    "lamp": 'each = "month"',
    "service": 'every = "P1Y"\nearly = 45\ngrace = 15',
    "check": 'every = "P6M"\nearly = 14\nroll = "preceding"',
    "filter": 'every = "P3M"\nearly = 7\nroll = "modified-following"',
    "safety": 'every = "P1Y"\nkeep_anchor = 30',
    "inventory": 'every = "P1Y"\nanchor = 2020-03-01\nearly = 30\ngrace = 10',
}
"""The rules of each kind; the days between marks stand in `APART`."""
APART = (1, 7, 30, 350, 180, 92, 365, 360)


def _book() -> str:
    kinds = []
    for kind in KINDS:
        kinds.append(f'[kind.{kind}]\nname = "Bench {kind}"\n')
        kinds += [
            f'[[kind.{kind}.rule]]\ntask = "{task}"\ntitle = "Do {task}"\n{lines}\n'
            'source = "common practice, no source"\ncautions = ["Unplug first."]\n'
            for task, lines in RULES.items()
        ]
    return "\n".join(kinds)


def _records(units: int, sites: int) -> Iterator[RegisterRecord]:
    for site in range(sites):
        yield Site(
            site=f"s{site:03}",
            name=f"Site {site}",
            county=f"County {site % 60}",
            region=f"Region {site % 9}",
            country="US",
            subdivision="NE",
            time_zone="America/Chicago",
            open_days="Mon Tue Wed Thu Fri" if site % 5 else "Tue Thu",
        )
    for unit in range(units):
        yield Unit(
            property_number=f"{unit:06}",
            kind=KINDS[unit % len(KINDS)],
            manufacturer="Invented Works",
            model=f"M{unit % 7}",
            serial=f"{unit:08}",
            site=f"s{unit % sites:03}",
            in_service_on=dt.date(2024, 1, 15) - dt.timedelta(days=unit % 900),
            record_from_on=dt.date(2024, 1, 15),
        )
    for unit in range(0, units, 40):
        start = dt.date(2025, 1, 1) + dt.timedelta(days=unit % 560)
        end = start + dt.timedelta(days=20)
        yield Outage(
            property_number=f"{unit:06}", from_on=start, to_on=end, reason="sent for repair"
        )


def _marks(units: int) -> MarkedYears:
    """Marks of every row at its rule's pace, one in thirty left out; rows are unit × task."""
    random = np.random.default_rng(2)
    rows, days = [], []
    for task, apart in enumerate(APART):
        turns = np.arange(FROM, UNTIL, apart)
        place = np.repeat(np.arange(units), len(turns)) * len(APART) + task
        day = np.tile(turns, units) + (place * 7) % apart
        kept = (random.random(len(day)) > 0.03) & (day <= UNTIL) & ((day + 3) % 7 < 5)
        rows.append(place[kept])
        days.append(day[kept].astype(np.int32))
    row, day = np.concatenate(rows), np.concatenate(days)
    return MarkedYears.pack(row, day, np.ones(len(row), dtype=np.bool_))


def make(url: str, units: int, sites: int, public_holidays: PublicHolidayCalendar) -> None:
    """A database of such a fleet; the marks are kept without entries behind them."""
    create(url)
    book = _book()
    years = [public_holidays.year("US", "NE", year) for year in range(2018, 2033)]
    with closing(open_store(url, clock=lambda: NOW)) as store, store.begin(write=True) as record:
        records = _records(units, sites)
        record.change([Change(old=None, new=new, initial=True) for new in records], STAMP)
        record.add_book(book, hashlib.sha256(book.encode()).hexdigest(), True, STAMP)
        record.add_holiday_years(years, STAMP)
        _keep(record, units)
        record.commit()


def _keep(record: SqlRecord, units: int) -> None:
    numbers = record.unit_ids()
    unit_ids = [numbers[f"{unit:06}"] for unit in range(units)]
    record.keep(unit_ids, kept_of(_marks(units), unit_ids, list(RULES), len(RULES)))


def answered(url: str, public_holidays: PublicHolidayCalendar) -> DueAnswer:
    """Open the file and answer every row for today."""
    with closing(open_store(url, clock=lambda: NOW)) as store, store.begin() as record:
        return due_rows(record, public_holidays, Question(now=NOW))


def seconds(units: int = 10_000, sites: int = 120, turns: int = 5) -> float:
    """The median processor time of a whole answer."""
    public_holidays = PublicHolidayCalendar()
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'fleet.db'}"
        make(url, units, sites, public_holidays)
        answer = answered(url, public_holidays)
        assert len(answer.rows) == units * len(RULES)
        assert not answer.failures
        took = milliseconds({"rows": lambda: answered(url, public_holidays)}, turns)
    return took["rows"] / 1000


def seconds_alone() -> float:
    """The same, measured in a process of its own."""
    run = [sys.executable, "-m", "tests.studies.speed.from_file"]
    return float(subprocess.run(run, check=True, capture_output=True, text=True).stdout)


if __name__ == "__main__":
    print(seconds())
