"""How is a mistyped row taken back: out of the register, and still in what was known before?"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path

import pytest

from fleet.domain.register import Register
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.files.reader import read_tables
from fleet.services.load import load
from fleet.services.load_ports import TableCount
from fleet.services.ports import Record, Stamp, Store
from fleet.storage import SqlStore, create, open_store
from tests.fakes import FakeStore, NoProgress
from tests.fleet.services.load_files import FLEET, SAME, STAMP, loaded, refusal, write_fleet

LATER = dataclasses.replace(STAMP, at=STAMP.at + dt.timedelta(days=7))
LATEST = dataclasses.replace(STAMP, at=STAMP.at + dt.timedelta(days=14))
CHANGED = TableCount(changed=1)

WITHDRAWN = {
    "patterns": "site,from,open_days,withdrawn\nalder,2026-01-01,,yes\n",
    "holidays": "site,on,name,withdrawn\nalder,2026-05-15,,yes\n",
    "closures": "site,from,withdrawn\n,2026-01-20,yes\n",
    "placements": "property_number,site,from,withdrawn\nM-001,,2025-01-02,yes\n",
    "outages": "property_number,from,withdrawn\nM-001,2025-02-03,yes\n",
    "people": "email,name,role,region,withdrawn\neast@agency.example,,consultant,East,yes\n",
    "absences": "email,from,to,withdrawn\neast@agency.example,2026-03-02,,yes\n",
    "quiet_periods": "site,from,to,reason,withdrawn\nalder,2026-12-24,,,yes\n",
    "mail_settings": "name,value,withdrawn\nsend_at,,yes\n",
}
"""The one row of each table, by its key alone."""
OF_MAIL = ("people", "absences", "quiet_periods", "mail_settings")
"""Tables that say nothing of units and their days."""
RIGHT = "property_number,from,to,reason,withdrawn\nM-001,2025-02-04,2025-02-10,lamp,\n"
MENDED = RIGHT + "M-001,2025-02-03,2025-02-10,lamp,yes\n"


@pytest.fixture(params=["in memory", "sqlite", pytest.param("pg", marks=pytest.mark.postgres)])
def fleet_store(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Store]:
    """An empty fleet, in memory and on both databases."""
    if request.param == "in memory":
        yield FakeStore()
        return
    url = f"sqlite:///{tmp_path_factory.mktemp('database') / 'fleet.db'}"
    if request.param == "pg":
        from tests.fleet.conftest import new_postgres_database

        url = new_postgres_database(request.getfixturevalue("postgres_address"))
    create(url)
    with closing(open_store(url, clock=lambda: STAMP.at)) as opened:
        yield opened


def register(store: Store, known_at: dt.datetime | None = None) -> Register:
    with store.begin() as record:
        return record.register(known_at)


def file(folder: Path, table: str, text: str) -> Path:
    path = folder / f"{table}.csv"
    path.write_text(text)
    return path


@pytest.mark.parametrize("table", WITHDRAWN)
def test_a_withdrawn_record_goes_and_is_known_before(
    fleet_store: Store, tmp_path: Path, table: str
) -> None:
    loaded(fleet_store, write_fleet(tmp_path))
    before = register(fleet_store)
    path = file(tmp_path, table, WITHDRAWN[table])

    first = loaded(fleet_store, path, stamp=LATER)
    second = loaded(fleet_store, path, stamp=LATEST)

    assert (first.tables, second.tables) == ({table: CHANGED}, {table: SAME})
    assert register(fleet_store) == dataclasses.replace(before, **{table: {}})  # type: ignore[arg-type]
    assert register(fleet_store, LATER.at) == register(fleet_store)
    assert register(fleet_store, LATER.at - dt.timedelta(seconds=1)) == before


def test_a_wrong_outage_gives_way_to_the_right_one_in_one_load(
    fleet_store: Store, tmp_path: Path
) -> None:
    loaded(fleet_store, write_fleet(tmp_path))
    path = file(tmp_path, "outages", MENDED)

    report = loaded(fleet_store, path, stamp=LATER)

    assert report.tables == {"outages": TableCount(new=1, changed=1)}
    assert list(register(fleet_store).outages) == [("M-001", "2025-02-04")]
    assert list(register(fleet_store, STAMP.at).outages) == [("M-001", "2025-02-03")]
    assert loaded(fleet_store, path, stamp=LATEST).tables == {"outages": TableCount(unchanged=2)}


def test_a_dry_run_withdraws_nothing(fleet_store: Store, tmp_path: Path) -> None:
    loaded(fleet_store, write_fleet(tmp_path))
    before = register(fleet_store)

    report = loaded(fleet_store, file(tmp_path, "outages", MENDED), stamp=LATER, dry_run=True)

    assert report.tables == {"outages": TableCount(new=1, changed=1)}
    assert register(fleet_store) == before


def test_a_record_may_come_back_after_it_was_withdrawn(fleet_store: Store, tmp_path: Path) -> None:
    loaded(fleet_store, write_fleet(tmp_path))
    before = register(fleet_store)
    for table, text in WITHDRAWN.items():
        loaded(fleet_store, file(tmp_path, table, text), stamp=LATER)
    gone = register(fleet_store)

    report = loaded(fleet_store, write_fleet(tmp_path), stamp=LATEST)

    assert {table for table, count in report.tables.items() if count.new} == set(WITHDRAWN)
    assert register(fleet_store) == before
    assert register(fleet_store, LATER.at) == gone


def test_another_record_that_comes_later_was_not_known_before(
    fleet_store: Store, tmp_path: Path
) -> None:
    """Also where it is the only one of its table again."""
    loaded(fleet_store, write_fleet(tmp_path))
    for table in ("closures", "people"):
        loaded(fleet_store, file(tmp_path, table, WITHDRAWN[table]), stamp=LATER)
    file(tmp_path, "closures", "site,from\n,2026-01-21\n")
    file(tmp_path, "people", "email,name,role\nwest@agency.example,Wren Ash,manager\n")

    loaded(fleet_store, tmp_path / "closures.csv", tmp_path / "people.csv", stamp=LATEST)

    assert list(register(fleet_store).closures) == [("", "2026-01-21", "closed")]
    assert register(fleet_store, LATER.at).closures == {}
    assert register(fleet_store, LATER.at).people == {}


NOTHING: dict[str, tuple[str, str]] = {
    "patterns": ("alder,2026-01-02,,yes", "pattern 'alder 2026-01-02'; write site and from"),
    "holidays": (
        "alder,2026-05-16,,yes",
        "holiday 'alder US NE 2026-05-16'; write site, country, subdivision and on",
    ),
    "closures": (",2026-01-21,yes", "closure '2026-01-21 closed'; write site, from and open"),
    "placements": (
        "M-001,,2025-01-03,yes",
        "placement 'M-001 2025-01-03'; write property_number and from",
    ),
    "outages": (
        "M-009,2025-02-03,yes",
        "outage 'M-009 2025-02-03'; write property_number and from",
    ),
    "people": (
        "east@agency.example,,manager,East,yes",
        "person 'east@agency.example manager East'; write email, role, site and region",
    ),
}


@pytest.mark.parametrize("table", NOTHING)
def test_what_is_not_there_cannot_be_withdrawn(
    fleet_store: Store, tmp_path: Path, table: str
) -> None:
    loaded(fleet_store, write_fleet(tmp_path))
    row, told = NOTHING[table]
    header = WITHDRAWN[table].splitlines()[0]

    assert refusal(fleet_store, file(tmp_path, table, f"{header}\n{row}\n")) == [
        f"{table}.csv row 2, withdrawn: there is no {told} as they were loaded"
    ]


def test_a_row_cannot_stand_and_be_withdrawn_in_one_load(tmp_path: Path) -> None:
    store = FakeStore()
    loaded(store, write_fleet(tmp_path))
    rows = "M-001,2025-02-03,2025-02-10,lamp,\nM-001,2025-02-03,2025-02-10,lamp,yes\n"
    path = file(tmp_path, "outages", RIGHT.splitlines()[0] + "\n" + rows)

    assert refusal(store, path) == [
        "outages.csv row 3: outages.csv row 2 is already another row for M-001 2025-02-03;"
        " keep one of the two"
    ]


def test_a_row_that_is_not_withdrawn_still_needs_all_its_cells(tmp_path: Path) -> None:
    text = "property_number,site,from,withdrawn\nM-001,,2025-01-02,no\n"

    assert refusal(FakeStore(), write_fleet(tmp_path, placements=text)) == [
        "placements.csv row 2, site: the cell is empty; fill it in"
    ]


@pytest.mark.parametrize("table", ["sites", "units", "entries"])
def test_sites_units_and_entries_are_not_withdrawn(tmp_path: Path, table: str) -> None:
    header, row = FLEET[f"{table}.csv"].splitlines()
    folder = write_fleet(tmp_path, **{table: f"{header},withdrawn\n{row},yes\n"})

    told = refusal(FakeStore(), folder)

    assert told[0].startswith(f"{table}.csv row 1: unknown column 'withdrawn'; ")


@pytest.mark.parametrize("table", [t for t in WITHDRAWN if t not in OF_MAIL])
def test_the_kept_days_of_the_units_it_touches_are_made_anew(tmp_path: Path, table: str) -> None:
    store, touched = FakeStore(), list[int]()
    loaded(store, write_fleet(tmp_path))

    def rebuild(record: Record, unit_ids: Sequence[int]) -> None:
        touched.extend(unit_ids)

    load(
        store,
        read_tables([file(tmp_path, table, WITHDRAWN[table])]),
        PublicHolidayCalendar(),
        rebuild,
        stamp=LATER,
        progress=NoProgress(),
    )

    assert touched == [1]


def test_kept_days_follow_a_withdrawn_outage(store: SqlStore, tmp_path: Path) -> None:
    """A span marks its expected days: those of the outage only once it is withdrawn."""
    from fleet.services.kept import rebuild

    def with_days(path: Path, stamp: Stamp) -> int:
        holidays = PublicHolidayCalendar()
        load(
            store,
            read_tables([path]),
            holidays,
            lambda record, ids: rebuild(record, ids, holidays),
            stamp=stamp,
            progress=NoProgress(),
        )
        with store.begin() as record:
            years = record.kept_years()
        return sum(byte.bit_count() for marked in years.marked for byte in marked)

    span = "property_number,task,on,to,mark\nM-001,optics,2025-02-01,2025-02-28,unused\n"
    folder = write_fleet(tmp_path, entries=span)

    assert with_days(folder, STAMP) == 6  # Tuesdays and Thursdays of four weeks but one
    withdrawn = file(tmp_path, "outages", WITHDRAWN["outages"])
    assert with_days(withdrawn, LATER) == 8
