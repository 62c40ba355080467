"""What that a load brings is known from the beginning, and what only from then on (design 4.6)?"""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import pytest

from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.services.due import due_rows
from fleet.services.questions import Question
from fleet.storage import SqlStore
from tests.fakes import FakeStore
from tests.fleet.services.load_files import FLEET, STAMP, loaded, write_fleet

LATER = dataclasses.replace(STAMP, at=STAMP.at + dt.timedelta(days=1))
THURSDAY = dt.date(2026, 3, 12)


@pytest.fixture
def first(tmp_path: Path) -> Path:
    """The site and its unit, as files."""
    folder = tmp_path / "first"
    folder.mkdir()
    for name in ("sites.csv", "units.csv"):
        (folder / name).write_text(FLEET[name])
    return folder


@pytest.fixture
def later(tmp_path: Path) -> Path:
    """A folder for what comes later."""
    folder = tmp_path / "later"
    folder.mkdir()
    return folder


def test_only_what_comes_with_its_owner_is_initial(tmp_path: Path) -> None:
    store = FakeStore()
    loaded(store, write_fleet(tmp_path))
    first = [change.initial for change, _ in store.record.changes]
    loaded(
        store,
        write_fleet(
            tmp_path,
            sites=FLEET["sites.csv"] + "birch,Birch,Cass,East,US,NE,America/Chicago,Mon,\n",
            patterns=FLEET["patterns.csv"] + "birch,2026-01-01,Mon\nalder,2026-02-01,Mon\n",
            closures=FLEET["closures.csv"] + ",2026-02-20,,snow,\nbirch,2026-02-20,,roof,\n",
            units=FLEET["units.csv"].replace("Hillside", "Dales")
            + "M-002,microscope,Hillside,alder,2024-01-02,\n",
            outages=FLEET["outages.csv"] + "M-001,2026-02-03,,x\nM-002,2026-02-03,,y\n",
            people=FLEET["people.csv"] + "w@agency.example,Wren,bench,alder,,\n",
        ),
    )

    later = [
        (" ".join(change.record.key), change.initial)
        for change, _ in store.record.changes[len(first) :]
    ]
    assert all(first)
    assert later == [
        ("birch", True),
        ("birch 2026-01-01", True),
        ("alder 2026-02-01", False),
        (" 2026-02-20 closed", False),
        ("birch 2026-02-20 closed", True),
        ("M-001", False),
        ("M-002", True),
        ("M-001 2026-02-03", False),
        ("M-002 2026-02-03", True),
        ("w@agency.example bench alder ", False),
    ]
    assert store.record.books[0][1]


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("closures.csv", "site,from,to,reason\n,2026-03-12,,snow\n"),
        ("holidays.csv", "country,subdivision,on,name\nUS,NE,2026-03-12,Fair day\n"),
    ],
)
def test_a_day_closed_for_all_sites_was_open_before_that_was_known(
    store: SqlStore, first: Path, later: Path, name: str, text: str
) -> None:
    loaded(store, first)
    (later / name).write_text(text)

    loaded(store, later, stamp=LATER)

    def opens(known_at: dt.datetime | None) -> dt.date | None:
        question = Question(now=LATER.at, on=THURSDAY, known_at=known_at)
        with store.begin() as record:
            rows = due_rows(record, PublicHolidayCalendar(), question).rows
        return next(row.opens for row in rows if row.task == "optics")

    assert [opens(STAMP.at), opens(LATER.at), opens(None)] == [THURSDAY, None, None]


def test_what_is_of_no_site_is_initial_only_in_the_very_first_load(
    store: SqlStore, first: Path, later: Path
) -> None:
    """Before its own book came, the shipped one answered."""
    loaded(store, first)
    for name in ("rules.toml", "closures.csv", "people.csv"):
        (later / name).write_text(FLEET[name])
    (later / "holidays.csv").write_text("country,subdivision,on,name\nUS,NE,2026-05-15,Fair day\n")

    loaded(store, later, stamp=LATER)

    with store.begin() as record:
        before, now = record.register(STAMP.at), record.register(LATER.at)
    assert (before.closures, before.holidays, before.people, before.book) == ({}, {}, {}, None)
    assert [len(now.closures), len(now.holidays), len(now.people)] == [1, 1, 1]
    assert now.book is not None
    assert (len(before.sites), len(before.units)) == (1, 1)


def test_a_book_and_people_that_come_before_the_sites_are_known_from_the_beginning(
    tmp_path: Path,
) -> None:
    store = FakeStore()
    write_fleet(tmp_path)
    loaded(store, tmp_path / "rules.toml")

    loaded(store, tmp_path)

    assert [initial for _, initial in store.record.books] == [True]
    assert all(change.initial for change, _ in store.record.changes)
