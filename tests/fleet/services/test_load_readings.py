"""Do readings of files open actions in the load itself, once, on both databases?"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from fleet.domain.records import Outage
from fleet.services.kept import rebuild
from fleet.services.load_ports import LoadReport
from fleet.services.mark import mark
from fleet.services.ports import Stamp
from fleet.storage import SqlStore
from tests.fleet.services.action_fleet import BOOK, HOLIDAYS, NOON, entry, november
from tests.fleet.services.load_files import loaded

STAMP = Stamp(NOON, "file:test", "file")
SITES = """site,name,county,region,country,subdivision,time_zone,open_days
alder,Alder Creek,Cherry,West,US,NE,America/Chicago,Mon Tue Wed Thu Fri
"""
UNITS = """property_number,kind,model,site,in_service_on
R-1,refrigerator,X-1,alder,2026-11-02
B-1,balance,X-1,alder,2026-11-02
P-1,pipette,X-1,alder,2026-11-02
"""
ENTRIES = """property_number,task,on,mark,initials,reading,key,strikes,why
R-1,temperature,2026-11-03,done,GR,1.9,cold,,
R-1,temperature,2026-11-04,done,GR,2.0,,,
R-1,temperature,2026-11-05,done,GR,8.0,,,
R-1,temperature,2026-11-06,done,GR,8.1,hot,,
R-1,temperature,2026-11-06,done,GR,8.2,hotter,hot,misread
B-1,check-weight,2026-11-17,done,GR,100.2,heavy,,
B-1,check-weight,2026-11-18,unused,GR,,,,
B-1,check-weight,2026-11-19,done,GR,100.0,,,
B-1,check-weight,2026-11-24,done,GR,98.0,light,,
"""
OPENED = {
    "R-1/2026-11-03/1": "cold",
    "R-1/2026-11-06/1": "hot",
    "B-1/2026-11-17/1": "heavy",
    "B-1/2026-11-24/1": "light",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The small fleet with readings in and out of range."""
    made = tmp_path / "files"
    made.mkdir()
    (made / "rules.toml").write_text(BOOK, encoding="utf-8")
    (made / "sites.csv").write_text(SITES, encoding="utf-8")
    (made / "units.csv").write_text(UNITS, encoding="utf-8")
    (made / "entries.csv").write_text(ENTRIES, encoding="utf-8")
    return made


def load(store: SqlStore, *paths: Path, dry_run: bool = False, chunk_rows: int = 2) -> LoadReport:
    return loaded(store, *paths, dry_run=dry_run, chunk_rows=chunk_rows, stamp=STAMP)


def opened(store: SqlStore) -> dict[str, str]:
    with store.begin() as record:
        return {a.number: a.entry for a in record.register().actions.values()}


def outages(store: SqlStore) -> set[tuple[str, dt.date, dt.date | None]]:
    with store.begin() as record:
        found = record.register().outages.values()
    return {(one.property_number, one.from_on, one.to_on) for one in found}


def test_a_load_opens_an_action_for_each_reading_out_of_range(
    store: SqlStore, folder: Path
) -> None:
    """42 CFR 493.1282(b)(3) (read in a reprint): storage criteria that are not met are acted on."""
    report = load(store, folder)

    assert opened(store) == OPENED
    assert report.remarks[-1] == (
        "4 readings lie out of range; each opens a corrective action"
        " (R-1/2026-11-03/1, R-1/2026-11-06/1, B-1/2026-11-17/1 and 1 more): see dueward actions"
    )


def test_a_failed_check_of_the_files_stops_the_use_until_the_pass_further_on(
    store: SqlStore, folder: Path
) -> None:
    """42 CFR 493.1254(b)(2)(ii) (read in a reprint)."""
    load(store, folder)

    assert outages(store) == {
        ("B-1", november(18), november(19)),
        ("B-1", november(25), None),
    }


def test_the_same_files_again_open_nothing(store: SqlStore, folder: Path) -> None:
    load(store, folder)
    with store.begin() as record:
        lines = sum(1 for _ in record.change_lines())

    again = load(store, folder)

    with store.begin() as record:
        assert sum(1 for _ in record.change_lines()) == lines
    assert again.remarks == ()


def test_a_load_that_is_only_tried_keeps_nothing(store: SqlStore, folder: Path) -> None:
    load(store, folder / "rules.toml", folder / "sites.csv", folder / "units.csv")

    tried = load(store, folder, dry_run=True)

    assert "4 readings lie out of range" in tried.remarks[-1]
    assert (opened(store), outages(store)) == ({}, set())


def test_an_action_that_the_files_bring_is_not_opened_anew(store: SqlStore, folder: Path) -> None:
    (folder / "actions.csv").write_text(
        "number,site,property_number,task,entry,opened_on,problem\n"
        "own-7,alder,R-1,temperature,cold,2026-11-03,too cold\n",
        encoding="utf-8",
    )

    load(store, folder)

    assert opened(store) == {"own-7": "cold", **dict(list(OPENED.items())[1:])}


def test_a_pass_of_a_later_file_ends_the_outage(store: SqlStore, folder: Path) -> None:
    load(store, folder)
    (folder / "entries.csv").write_text(
        "property_number,task,on,mark,initials,reading\n"
        "B-1,check-weight,2026-11-26,done,GR,100.0\nB-1,check-weight,2026-11-27,done,GR,100.0\n",
        encoding="utf-8",
    )

    load(store, folder / "entries.csv")

    assert ("B-1", november(25), november(26)) in outages(store)


def test_a_failed_reading_that_the_files_strike_stops_nothing(
    store: SqlStore, folder: Path
) -> None:
    """Its action stays, so that somebody says why it was struck."""
    (folder / "entries.csv").write_text(
        "property_number,task,on,mark,initials,reading,key,strikes,why\n"
        "B-1,check-weight,2026-11-24,done,GR,1.0,slip,,\n"
        "B-1,check-weight,2026-11-24,done,GR,100.0,meant,slip,misread\n",
        encoding="utf-8",
    )

    load(store, folder)

    assert (opened(store), outages(store)) == ({"B-1/2026-11-24/1": "slip"}, set())


def test_a_pass_that_the_files_strike_ends_nothing(store: SqlStore, folder: Path) -> None:
    load(store, folder)
    (folder / "entries.csv").write_text(
        "property_number,task,on,mark,reading,key,strikes,why\n"
        "B-1,check-weight,2026-11-19,,,undone,B-1/check-weight/2026-11-19/1,other balance\n",
        encoding="utf-8",
    )

    load(store, folder / "entries.csv")

    assert ("B-1", november(18), november(25)) in outages(store)


def test_a_mark_keeps_its_action_and_its_outage_in_the_database(
    store: SqlStore, folder: Path
) -> None:
    load(store, folder / "rules.toml", folder / "sites.csv", folder / "units.csv")
    with store.begin(write=True) as record:
        heavy = entry("B-1 check-weight", 24, "100.2")
        mark(record, HOLIDAYS, heavy, anyway=False, stamp=STAMP)
        record.commit()

    assert opened(store) == {"B-1/2026-11-24/1": "B-1/check-weight/2026-11-24/1"}
    assert outages(store) == {("B-1", november(25), None)}
    with store.begin(write=True) as record:
        before = record.kept_years()
        rebuild(record, list(record.unit_ids().values()), HOLIDAYS)
        assert record.kept_years().marked == before.marked


def test_a_failure_that_later_files_strike_takes_its_outage_with_it(
    store: SqlStore, folder: Path
) -> None:
    load(store, folder)
    (folder / "entries.csv").write_text(
        "property_number,task,on,mark,reading,key,strikes,why\n"
        "B-1,check-weight,2026-11-24,,,undone,light,other balance\n",
        encoding="utf-8",
    )

    report = load(store, folder / "entries.csv")

    assert outages(store) == {("B-1", november(18), november(19))}
    assert report.remarks == (
        "the outage of B-1 from 2026-11-25 is withdrawn: no failed check stands behind it any more",
    )


def test_the_outages_of_a_load_are_written_in_one_change(store: SqlStore, folder: Path) -> None:
    """So that a load of many failing readings takes no longer for each of them."""
    load(store, folder / "rules.toml", folder / "sites.csv", folder / "units.csv")
    days = "".join(f"B-1,check-weight,2026-11-{day},done,98.0\n" for day in (17, 18, 19, 20))
    (folder / "entries.csv").write_text(
        f"property_number,task,on,mark,reading\n{days}", encoding="utf-8"
    )

    load(store, folder / "entries.csv")

    with store.begin() as record:
        lines = [line for line in record.change_lines() if isinstance(line.change.record, Outage)]
    assert [line.change.old for line in lines] == [None]
    assert outages(store) == {("B-1", november(18), None)}
