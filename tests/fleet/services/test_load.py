"""What a load changes: everything that is new, nothing twice, and nothing by half."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path

import pytest

from fleet.domain.records import Site, Unit
from fleet.errors import BadInput, StoreError
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.files.reader import read_tables
from fleet.services.load import load
from fleet.services.load_ports import MAX_FAULTS, TableCount
from fleet.services.ports import Record, Stamp, Store
from fleet.storage import SqlStore, create, open_store
from tests.fakes import FakeStore, NoProgress
from tests.fleet.services.load_files import BOOK, FLEET, NEW, SAME, STAMP, loaded, write_fleet

TABLES = [
    "rules",
    "sites",
    "patterns",
    "holidays",
    "closures",
    "units",
    "placements",
    "outages",
    "people",
    "absences",
    "quiet_periods",
    "mail_settings",
    "entries",
]


@pytest.fixture(params=["in memory", "sqlite"])
def fleet_store(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Store]:
    """An empty fleet, in memory and in SQLite."""
    if request.param == "in memory":
        yield FakeStore()
        return
    url = f"sqlite:///{tmp_path_factory.mktemp('database') / 'fleet.db'}"
    create(url)
    with closing(open_store(url, clock=lambda: STAMP.at)) as opened:
        yield opened


def keys(store: Store) -> list[str]:
    with store.begin() as record:
        return [stored.entry.key for stored in record.entries()]


def test_a_second_load_of_the_same_files_changes_nothing(
    fleet_store: Store, tmp_path: Path
) -> None:
    folder = write_fleet(tmp_path)

    first, second = loaded(fleet_store, folder), loaded(fleet_store, folder)

    assert first.tables == dict.fromkeys(TABLES, NEW)
    assert second.tables == dict.fromkeys(TABLES, SAME)
    assert keys(fleet_store) == ["M-001/optics/2026-01-13/1"]


def test_a_second_load_changes_nothing_on_either_database(store: SqlStore, tmp_path: Path) -> None:
    folder = write_fleet(tmp_path)

    first, second = loaded(store, folder), loaded(store, folder)

    assert first.tables["entries"] == NEW
    assert second.tables == dict.fromkeys(TABLES, SAME)


def test_a_dry_run_reports_the_same_and_keeps_nothing(fleet_store: Store, tmp_path: Path) -> None:
    folder = write_fleet(tmp_path)

    dry = loaded(fleet_store, folder, dry_run=True)

    with fleet_store.begin() as record:
        assert not record.register().sites
        assert record.register().book is None
        assert not record.holiday_years()
        assert not record.unit_ids()
    assert keys(fleet_store) == []
    assert dry.tables == loaded(fleet_store, folder).tables
    assert dry.dry_run


@pytest.mark.parametrize("name", [name for name in FLEET if name != "rules.toml"])
def test_one_bad_row_anywhere_keeps_everything_out(
    fleet_store: Store, tmp_path: Path, name: str
) -> None:
    write_fleet(tmp_path)
    with (tmp_path / name).open("a", encoding="utf-8") as file:
        file.write("x" * 300 + "\n")

    with pytest.raises(BadInput):
        loaded(fleet_store, tmp_path)

    with fleet_store.begin() as record:
        assert record.register().sites == {}
    assert keys(fleet_store) == []


def test_a_changed_row_becomes_a_change_line(fleet_store: Store, tmp_path: Path) -> None:
    loaded(fleet_store, write_fleet(tmp_path))
    units = FLEET["units.csv"].replace("2024-01-02,", "2024-01-02,2026-12-31")
    outages = FLEET["outages.csv"] + "M-001,2026-02-03,,stage\n"

    report = loaded(fleet_store, write_fleet(tmp_path, units=units, outages=outages))

    assert report.tables["units"] == TableCount(changed=1)
    assert report.tables["outages"] == TableCount(new=1, unchanged=1)
    with fleet_store.begin() as record:
        unit = record.register().units["M-001",]
    assert unit.retired_on == dt.date(2026, 12, 31)


def test_a_new_book_is_added_whole_and_only_once(fleet_store: Store, tmp_path: Path) -> None:
    folder = write_fleet(tmp_path)
    loaded(fleet_store, folder)
    (folder / "rules.toml").write_text(BOOK + "# a later edition\n")

    report = loaded(fleet_store, folder)

    assert report.tables["rules"] == TableCount(changed=1)
    with fleet_store.begin() as record:
        book = record.register().book
    assert book is not None
    assert book.text == BOOK + "# a later edition\n"
    assert loaded(fleet_store, folder).tables["rules"] == SAME


def test_without_a_book_the_shipped_one_speaks(fleet_store: Store, tmp_path: Path) -> None:
    (write_fleet(tmp_path) / "rules.toml").unlink()

    report = loaded(fleet_store, tmp_path)

    assert "rules" not in report.tables
    with fleet_store.begin() as record:
        assert record.register().book is None


def test_a_lead_address_makes_no_row_so_that_a_new_lead_ends_the_old_ones_mail(
    fleet_store: Store, tmp_path: Path
) -> None:
    loaded(fleet_store, write_fleet(tmp_path))

    with fleet_store.begin() as record:
        register = record.register()
    assert register.sites["alder",].lead_email == "lead@alder.example"
    assert [person.name for person in register.people.values()] == ["Robin Moss"]


def test_a_lead_among_the_people_is_not_made_again(fleet_store: Store, tmp_path: Path) -> None:
    row = "lead@alder.example,Ash Alder,site lead,alder,,\n"
    loaded(fleet_store, write_fleet(tmp_path, people=FLEET["people.csv"] + row))

    with fleet_store.begin() as record:
        names = [person.name for person in record.register().people.values()]
    assert names == ["Robin Moss", "Ash Alder"]


def test_a_holiday_of_a_site_takes_its_place_from_the_site(
    fleet_store: Store, tmp_path: Path
) -> None:
    loaded(fleet_store, write_fleet(tmp_path))

    with fleet_store.begin() as record:
        assert list(record.register().holidays) == [("alder", "US", "NE", "2026-05-15")]


def test_the_snapshot_of_holidays_spans_the_units_and_the_years_to_come(
    fleet_store: Store, tmp_path: Path
) -> None:
    loaded(fleet_store, write_fleet(tmp_path))
    with fleet_store.begin() as record:
        years = [(held.country, held.subdivision, held.year) for held in record.holiday_years()]
    assert sorted(years) == [("US", "NE", year) for year in range(2022, 2042)]

    loaded(
        fleet_store,
        write_fleet(tmp_path),
        stamp=Stamp(at=dt.datetime(2027, 1, 2, tzinfo=dt.UTC), by="r.alder", source="file"),
    )
    with fleet_store.begin() as record:
        later = [held.year for held in record.holiday_years()]
    assert sorted(later) == list(range(2022, 2043))


def test_only_units_whose_days_may_move_are_rebuilt(tmp_path: Path) -> None:
    store, rebuilt = FakeStore(), list[list[int]]()

    def note(record: Record, unit_ids: Sequence[int]) -> None:
        assert not record.is_committed  # type: ignore[attr-defined]
        rebuilt.append(list(unit_ids))

    def load_fleet(**changed: str) -> None:
        files = read_tables([write_fleet(tmp_path, **changed)])
        load(store, files, PublicHolidayCalendar(), note, stamp=STAMP, progress=NoProgress())

    units = FLEET["units.csv"] + "M-002,microscope,Hillside,alder,2024-01-02,\n"
    entries = FLEET["entries.csv"] + "M-002,optics,2026-01-15,,done,,,\n"
    load_fleet(units=units)
    load_fleet(units=units)
    load_fleet(units=units, entries=entries)
    load_fleet(units=units, people=FLEET["people.csv"] + "w@b.example,Wren,bench,,,\n")
    load_fleet(units=units, outages=FLEET["outages.csv"] + "M-002,2026-02-03,,y\n")
    load_fleet(units=units, closures=FLEET["closures.csv"] + ",2026-02-20,,snow,\n")

    assert rebuilt == [[1, 2], [2], [2], [1, 2]]


def test_a_store_that_fails_late_keeps_nothing(tmp_path: Path) -> None:
    store = FakeStore()

    def fail(record: Record, unit_ids: Sequence[int]) -> None:
        raise StoreError("the disk is full; free some space and load again")

    files = read_tables([write_fleet(tmp_path)])
    with pytest.raises(StoreError, match=re.escape("the disk is full; free some space")):
        load(store, files, PublicHolidayCalendar(), fail, stamp=STAMP, progress=NoProgress())

    assert store.record.changes == []


def test_progress_counts_every_entry(tmp_path: Path) -> None:
    steps: list[int] = []

    class Steps:
        def step(self, rows: int) -> None:
            steps.append(rows)

    row = "M-001,optics,2026-01-13,,done,,,\n"
    folder = write_fleet(tmp_path, entries=FLEET["entries.csv"] + row * 4)
    files = read_tables([folder], chunk_rows=2)
    load(
        FakeStore(),
        files,
        PublicHolidayCalendar(),
        lambda record, units: None,
        stamp=STAMP,
        progress=Steps(),
    )

    assert sum(steps) == 5


def test_chunks_of_any_size_make_the_same_record(tmp_path: Path) -> None:
    rows = [f"M-001,optics,2026-01-{day},,done,,," for day in ("13", "15", "13", "20", "13")]
    strike = "M-001,optics,2026-01-13,,,s1,M-001/optics/2026-01-13/2,twice"
    again = "M-001,optics,2026-01-22,,done,k1,,"
    text = FLEET["entries.csv"] + "\n".join([*rows, strike, again, again]) + "\n"
    folder = write_fleet(tmp_path, entries=text)

    records = []
    for chunk_rows in (1, 2, 3, 100):
        store = FakeStore()
        report = loaded(store, folder, chunk_rows=chunk_rows)
        assert report.tables["entries"] == TableCount(new=8, unchanged=1)
        assert loaded(store, folder).tables["entries"] == TableCount(unchanged=9)
        records.append(list(store.record.written.values()))
    assert all(record == records[0] for record in records)


def test_what_is_doubtful_is_accepted_with_a_remark(tmp_path: Path) -> None:
    folder = write_fleet(
        tmp_path,
        closures=FLEET["closures.csv"] + "alder,2024-01-01,2025-02-03,rebuilding,\n",
        people=FLEET["people.csv"] + "w@b.example,Wren,bench,alder,,gone@b.example\n",
        entries=FLEET["entries.csv"] + "M-001,optics,2030-01-15,,done,,,\n",
    )

    assert loaded(FakeStore(), folder).remarks == (
        "closures.csv row 3: a closure of 400 days was accepted",
        "people.csv row 3: the deputy gone@b.example is not among the people",
    )


def test_a_thousand_faults_are_kept_and_all_are_counted(tmp_path: Path) -> None:
    rows = "M-001,optics,2026-01-13,,dne,,,\n" * 1_500
    folder = write_fleet(tmp_path, entries=FLEET["entries.csv"] + rows)

    with pytest.raises(BadInput) as refused:
        loaded(FakeStore(), folder)

    assert (len(refused.value.faults), refused.value.total) == (MAX_FAULTS, 1_500)


def test_records_come_back_as_they_were_given(fleet_store: Store, tmp_path: Path) -> None:
    loaded(fleet_store, write_fleet(tmp_path))

    with fleet_store.begin() as record:
        register = record.register()
    assert register.sites["alder",] == Site(
        site="alder",
        name="Alder Creek",
        county="Cass",
        region="East",
        country="US",
        subdivision="NE",
        time_zone="America/Chicago",
        open_days="Tue Thu",
        lead_email="lead@alder.example",
    )
    assert register.units["M-001",] == Unit(
        property_number="M-001",
        kind="microscope",
        manufacturer="",
        model="Hillside",
        serial="",
        site="alder",
        in_service_on=dt.date(2024, 1, 2),
    )


def test_a_span_that_runs_on_after_today_is_accepted_with_a_remark(
    fleet_store: Store, tmp_path: Path
) -> None:
    """It is 18:30 on 2 March at the site, and 00:30 on 3 March in UTC."""
    evening = Stamp(at=dt.datetime(2026, 3, 3, 0, 30, tzinfo=dt.UTC), by="r.alder", source="file")
    spans = ("2026-03-02", "2026-03-03", "2062-03-06", "")
    rows = [f"M-001,optics,2026-02-16,{to},unused,k{n},,\n" for n, to in enumerate(spans)]
    strike = "M-001,optics,2026-02-16,2062-03-06,,k9,k2,wrong year\n"
    folder = write_fleet(tmp_path, entries=FLEET["entries.csv"] + "".join([*rows, strike]))

    first, second = (
        loaded(fleet_store, folder, stamp=evening, chunk_rows=2),
        loaded(fleet_store, folder, stamp=evening),
    )

    assert first.remarks == second.remarks
    assert first.remarks == (
        "entries.csv row 4: the span runs on to 2026-03-03, 1 day after today",
        "entries.csv row 5: the span runs on to 2062-03-06, 13153 days after today",
    )


def test_no_more_than_a_thousand_remarks_are_made_of_entries(tmp_path: Path) -> None:
    rows = [f"M-001,optics,2026-02-16,2062-03-06,unused,k{n},,\n" for n in range(1_003)]
    folder = write_fleet(tmp_path, entries=FLEET["entries.csv"] + "".join(rows))

    remarks = loaded(FakeStore(), folder).remarks

    assert len(remarks) == 1_001
    assert remarks[-1] == "and 3 more spans that run on after today"
