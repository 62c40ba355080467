"""Do rows of files mean the unit, whichever of its numbers they bear?"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from fleet.domain.evidence import Renumbering
from fleet.domain.records import Mark
from fleet.domain.register import Change
from fleet.services.load_ports import TableCount
from fleet.services.ports import Store
from fleet.services.why import unit_of
from fleet.storage import SqlStore
from tests.fakes import FakeStore
from tests.fleet.services.load_files import NEW, SAME, STAMP, loaded, refusal, write_fleet

RENUMBERED = "former,property_number,from\nM-001,N-001,2026-02-01\n"
LATER = "property_number,task,on,to,mark,key\nN-001,optics,2026-02-03,,done,\n"


def with_table(folder: Path, name: str, text: str) -> Path:
    (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


@pytest.mark.parametrize("number", ["M-001", "N-001"])
def test_a_first_load_takes_rows_under_either_number(
    store: SqlStore, tmp_path: Path, number: str
) -> None:
    units = f"property_number,kind,site,in_service_on\n{number},microscope,alder,2024-01-02\n"
    folder = with_table(write_fleet(tmp_path, units=units), "renumberings", RENUMBERED)

    report = loaded(store, folder)

    assert report.tables["renumberings"] == NEW
    with store.begin() as record:
        register = record.register()
        assert list(register.units) == [("N-001",)]
        assert list(register.outages) == [("N-001", "2025-02-03")]
        assert [s.entry.property_number for s in record.entries()] == ["N-001"]
        assert unit_of(register, "M-001").property_number == "N-001"
        known = record.register(dt.datetime(2020, 1, 1, tzinfo=dt.UTC))
        assert list(known.renumberings) == [("M-001",)]
    again = loaded(store, folder)
    assert set(again.tables.values()) == {SAME}


def test_files_from_before_a_renumbering_load_again_and_change_nothing(
    store: SqlStore, tmp_path: Path
) -> None:
    folder = write_fleet(tmp_path)
    loaded(store, folder)
    renumbered(store)

    assert set(loaded(store, folder).tables.values()) == {SAME}
    with store.begin() as record:
        assert list(record.register().units) == [("N-001",)]
        assert len(list(record.entries())) == 1


def renumbered(store: Store) -> None:
    step = Renumbering(former="M-001", property_number="N-001", from_on=dt.date(2026, 2, 1))
    with store.begin(write=True) as record:
        record.change([Change(old=None, new=step, initial=False)], STAMP)
        record.commit()


def test_entries_without_keys_are_the_same_under_the_new_number(
    store: SqlStore, tmp_path: Path
) -> None:
    folder = write_fleet(tmp_path)
    loaded(store, folder)
    renumbered(store)
    text = (folder / "entries.csv").read_text(encoding="utf-8").replace("M-001", "N-001")

    report = loaded(store, with_table(folder, "entries", text))

    assert report.tables["entries"] == SAME
    with store.begin() as record:
        assert [s.entry.key for s in record.entries()] == ["M-001/optics/2026-01-13/1"]


def test_another_mark_of_the_same_day_under_the_new_number_is_a_new_entry(
    store: SqlStore, tmp_path: Path
) -> None:
    folder = write_fleet(tmp_path)
    loaded(store, folder)
    renumbered(store)
    text = (folder / "entries.csv").read_text(encoding="utf-8")
    text = text.replace("M-001", "N-001").replace("done", "unused")

    report = loaded(store, with_table(folder, "entries", text))

    assert report.tables["entries"] == NEW
    with store.begin() as record:
        found = {s.entry.key: s.entry.mark for s in record.entries()}
    assert found == {
        "M-001/optics/2026-01-13/1": Mark.DONE,
        "N-001/optics/2026-01-13/1": Mark.UNUSED,
    }


def test_a_unit_is_renumbered_by_a_file_with_rows_under_the_new_number(
    store: SqlStore, tmp_path: Path
) -> None:
    folder = write_fleet(tmp_path)
    loaded(store, folder)
    for name in ("units", "placements", "outages"):
        text = (folder / f"{name}.csv").read_text(encoding="utf-8").replace("M-001", "N-001")
        with_table(folder, name, text)
    with_table(folder, "renumberings", RENUMBERED)
    with_table(folder, "entries-2", LATER)

    report = loaded(store, folder)

    unlike = {table: count for table, count in report.tables.items() if count != SAME}
    assert unlike == {"renumberings": NEW, "entries": TableCount(new=1, unchanged=1)}
    with store.begin() as record:
        assert list(record.register().units) == [("N-001",)]
        assert sorted(s.entry.key for s in record.entries()) == [
            "M-001/optics/2026-01-13/1",
            "N-001/optics/2026-02-03/1",
        ]
        assert "entry/N-001" not in record.heads()


def test_two_units_cannot_become_one(tmp_path: Path) -> None:
    units = (
        "property_number,kind,site,in_service_on\n"
        "M-001,microscope,alder,2024-01-02\nM-002,microscope,alder,2024-01-02\n"
    )
    store = FakeStore()
    loaded(store, write_fleet(tmp_path, units=units))
    text = "former,property_number,from\nM-001,M-002,2026-02-01\n"

    with_table(tmp_path, "renumberings", text)
    for name in ("units", "placements", "outages", "entries"):
        (tmp_path / f"{name}.csv").unlink()

    assert refusal(store, tmp_path) == [
        "renumberings.csv row 2, property_number: units M-001 and M-002 would be one; write a"
        " number that no other unit bears or has borne"
    ]


def test_a_renumbering_is_of_a_unit_that_is_there(tmp_path: Path) -> None:
    folder = with_table(
        write_fleet(tmp_path), "renumberings", "former,property_number,from\nX-1,Y-1,2026-02-01\n"
    )

    assert refusal(FakeStore(), folder) == [
        "renumberings.csv row 2, former: there is no unit 'X-1', and none 'Y-1'; add the unit to"
        " units under either number, or correct both"
    ]


def test_a_unit_stands_in_the_units_file_once_under_one_of_its_numbers(tmp_path: Path) -> None:
    units = (
        "property_number,kind,model,site,in_service_on\n"
        "M-001,microscope,Hillside,alder,2024-01-02\nN-001,microscope,Hillside,alder,2024-01-02\n"
    )
    folder = with_table(write_fleet(tmp_path, units=units), "renumberings", RENUMBERED)

    assert refusal(FakeStore(), folder) == [
        "units.csv row 3: units.csv row 2 is already the same row for N-001; keep one of the two"
    ]
