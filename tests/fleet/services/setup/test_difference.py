"""Does a difference say what loading the same files then does, and nothing else?"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from fleet.errors import Fault
from fleet.services.load import load
from fleet.services.load_ports import LoadReport, TableCount
from fleet.services.setup.difference import MOST_CHANGES, Difference, difference_of
from fleet.services.setup.record_changes import FieldChange, RecordChange, Sort
from tests.fakes import NoProgress
from tests.fleet.web.lab import FILES, Lab, make_lab


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    made = make_lab(tmp_path)
    with closing(made.program):
        yield made


def written(folder: Path, files: dict[str, str]) -> list[Path]:
    folder.mkdir()
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [folder]


def difference(lab: Lab, paths: list[Path]) -> Difference:
    program = lab.program
    return difference_of(
        program.store,
        lambda: program.reader(paths),
        program.public_holidays,
        program.rebuild,
        stamp=program.stamp("file"),
        progress=NoProgress(),
    )


def loaded(lab: Lab, paths: list[Path]) -> LoadReport:
    program = lab.program
    return load(
        program.store,
        program.reader(paths),
        program.public_holidays,
        program.rebuild,
        stamp=program.stamp("file"),
        progress=NoProgress(),
    )


def test_what_is_told_is_what_the_load_then_does(lab: Lab, tmp_path: Path) -> None:
    paths = written(
        tmp_path / "more",
        {
            "units.csv": FILES["units.csv"].replace("birch,2024", "cedar,2024"),
            "closures.csv": "site,from,to,reason\nalder,2026-02-24,,Ice storm\n",
            "people.csv": FILES["people.csv"].replace("Lee Alderman", "Lee Alder"),
            "entries.csv": "property_number,task,on,mark,initials\nA-2,optics,2026-03-02,done,GR\n",
        },
    )
    told = difference(lab, paths)
    changes = {(one.table, one.name): one for one in told.changes}
    assert changes == {
        ("units", "B-1"): RecordChange(
            "units", "B-1", Sort.CHANGED, [FieldChange("site", "birch", "cedar")]
        ),
        ("people", "lead@alder.example site lead alder"): RecordChange(
            "people",
            "lead@alder.example site lead alder",
            Sort.CHANGED,
            [FieldChange("name", "Lee Alderman", "Lee Alder")],
        ),
        ("closures", "alder 2026-02-24 closed"): changes["closures", "alder 2026-02-24 closed"],
    }
    closure = changes["closures", "alder 2026-02-24 closed"]
    assert closure.sort is Sort.NEW
    assert FieldChange("reason", "", "Ice storm") in closure.fields
    assert str(closure.backdated_on) == "2026-02-24"
    assert told.backdated == 1
    report = loaded(lab, paths)
    assert told.counts == report.tables
    assert told.counts["entries"] == TableCount(new=1)
    again = difference(lab, paths)
    assert again.is_empty
    assert again.changes == []
    assert again.register_version != told.register_version


def test_a_withdrawn_record_is_told_as_gone(lab: Lab, tmp_path: Path) -> None:
    row = "email,name,role,site,withdrawn\nbench@alder.example,,bench,alder,yes\n"
    (change,) = difference(lab, written(tmp_path / "more", {"people.csv": row})).changes
    assert (change.name, change.sort) == ("bench@alder.example bench alder", Sort.GONE)


def test_a_fault_leaves_nothing_but_faults(lab: Lab, tmp_path: Path) -> None:
    bad = FILES["units.csv"].replace("2024-05-01", "May 2024")
    told = difference(lab, written(tmp_path / "more", {"units.csv": bad}))
    assert (told.counts, told.changes, told.fault_total) == ({}, (), 2)
    assert [(f.file, f.row, f.column) for f in told.faults] == [
        ("units.csv", 5, "in_service_on"),
        ("units.csv", 6, "in_service_on"),
    ]


def test_of_very_many_changes_the_changed_ones_are_told_first(lab: Lab, tmp_path: Path) -> None:
    rows = "".join(f"N-{n:03},microscope,,,,alder,2026-01-05,\n" for n in range(MOST_CHANGES + 20))
    text = FILES["units.csv"] + rows
    paths = written(tmp_path / "more", {"units.csv": text.replace("M1,101", "M7,101")})
    told = difference(lab, paths)
    assert told.counts["units"] == TableCount(new=MOST_CHANGES + 20, changed=1, unchanged=4)
    assert len(told.changes) == MOST_CHANGES
    assert told.changes[0].name == "B-1"


def test_a_difference_comes_back_from_json_as_it_was() -> None:
    told = Difference(
        "v1",
        counts={"units": TableCount(1, 2, 3)},
        changes=[RecordChange("units", "A=1", Sort.CHANGED, [FieldChange("model", "", "+Ä")])],
        backdated=0,
        remarks=["one"],
        faults=[Fault("units.csv", None, "kind", "no kind", "write one")],
        fault_total=7,
    )
    assert Difference.from_json(told.to_json()) == told
