"""Does an export, loaded again, answer as before, on both databases?"""

from __future__ import annotations

import datetime as dt
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from fleet.storage import create
from tests.fleet.exported import DEMO, answers, contents, folder_bytes, run
from tests.postgres_server import new_database
from tests.reference.files import write_folder
from tests.strategies import Case, cases


@pytest.mark.parametrize("kind", ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def test_all_that_a_record_holds_comes_back_on_either_database(
    rich: str, kind: str, other_url: Callable[[str], str], tmp_path: Path
) -> None:
    copy = other_url(kind)
    if kind == "postgresql":
        create(copy)
    run("export", str(tmp_path / "out"), database=rich)
    run("load", str(tmp_path / "out"), database=copy)
    run("export", str(tmp_path / "again"), database=copy)
    before = contents(rich)
    assert contents(copy)[:-1] == before[:-1]
    assert folder_bytes(tmp_path / "again") == folder_bytes(tmp_path / "out")


def test_an_export_loaded_twice_changes_nothing(rich: str, tmp_path: Path) -> None:
    run("export", str(tmp_path / "out"), database=rich)
    before = contents(rich)
    said = run("load", str(tmp_path / "out"), "--format", "csv", database=rich)
    assert contents(rich) == before
    assert said.splitlines() == [
        "table,new,changed,unchanged",
        "tombstones,0,0,2",
        "sites,0,0,2",
        "units,0,0,2",
        "placements,0,0,2",
        "renumberings,0,0,1",
        "prints,0,0,2",
        "attachments,0,0,2",
        "seals,0,0,1",
        "entries,0,0,5",
    ]


def test_the_csv_files_alone_load_as_what_stands_now(rich: str, tmp_path: Path) -> None:
    out, copy = tmp_path / "out", f"sqlite:///{tmp_path / 'plain.db'}"
    run("export", str(out), database=rich)
    (out / "lines.tsv").unlink()
    book = "[kind.microscope]\nname = 'M'\n[[kind.microscope.rule]]\ntask = 'optics'\n"
    book += "title = 'T'\neach = 'open-day'\nsource = 'no source'\n"
    (out / "rules.toml").write_text(book)
    run("load", str(out), database=copy)
    run("export", str(tmp_path / "again"), database=copy)
    before, after = folder_bytes(out), folder_bytes(tmp_path / "again")
    tables = {"sites.csv", "units.csv", "renumberings.csv", "prints.csv", "entries.csv"}
    assert {name for name in before if name.endswith(".csv")} == tables
    assert {name: after[name] for name in tables} == {name: before[name] for name in tables}


def test_cells_stand_as_they_are_also_those_like_formulas(rich: str, tmp_path: Path) -> None:
    run("export", str(tmp_path / "out"), database=rich)
    text = (tmp_path / "out" / "units.csv").read_text(encoding="utf-8")
    assert text.splitlines()[1] == (
        '00417,microscope,,"+""quoted"", -and @more",=1+1,alder-creek,2024-01-02,,'
    )
    assert '"=HYPERLINK(1)\n+2, ""x""\n@-😀"' in (tmp_path / "out" / "entries.csv").read_text(
        encoding="utf-8"
    )


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not installed")
def test_the_sums_are_read_by_sha256sum(rich: str, tmp_path: Path) -> None:
    # The format is that of GNU coreutils' sha256sum, which is asked itself.
    run("export", str(tmp_path / "out"), database=rich)
    done = subprocess.run(
        ["sha256sum", "--check", "--strict", "SHA256SUMS"],
        cwd=tmp_path / "out",
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    named = {line.partition(": ")[0] for line in done.stdout.splitlines()}
    assert named == folder_bytes(tmp_path / "out").keys() - {"SHA256SUMS"}


@pytest.mark.parametrize(
    "kinds",
    [
        ("sqlite", "sqlite"),
        pytest.param(("sqlite", "postgresql", "sqlite"), marks=pytest.mark.postgres),
    ],
    ids=" to ".join,
)
def test_the_demo_answers_the_same_after_its_export(
    kinds: tuple[str, ...], other_url: Callable[[str], str], tmp_path: Path
) -> None:
    urls = [other_url(kind) for kind in kinds]
    run("load", str(DEMO), database=urls[0])
    days = [dt.date(2026, 10, 15)]
    known = [None, "2026-06-01T00:00:00Z"]
    expected = answers(urls[0], days, known)
    for step, (one, other) in enumerate(pairwise(urls)):
        run("export", str(tmp_path / f"{step}"), database=one)
        run("load", str(tmp_path / f"{step}"), database=other)
        assert answers(other, days, known) == expected
    assert contents(urls[-1])[:-1] == contents(urls[0])[:-1]


@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_drawn_fleets_answer_the_same_after_their_export(case: Case) -> None:
    _drawn_round_trip(case, lambda folder: f"sqlite:///{folder / 'b.db'}")


@pytest.mark.postgres
def test_drawn_fleets_answer_the_same_on_the_other_database(postgres_address: str) -> None:
    @settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck))
    @given(case=cases())
    def check(case: Case) -> None:
        _drawn_round_trip(case, lambda _: new_database(postgres_address))

    check()


def _drawn_round_trip(case: Case, place: Callable[[Path], str]) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_folder(case.fleet, folder / "files")
        one, other = f"sqlite:///{folder / 'a.db'}", place(folder)
        run("load", str(folder / "files"), database=one)
        run("export", str(folder / "out"), database=one)
        run("load", str(folder / "out"), database=other)
        days = [case.on, case.on - dt.timedelta(40)]
        known = [None, f"{case.on}T12:00:00Z"]
        assert answers(other, days, known) == answers(one, days, known)
        assert contents(other) == contents(one)
