"""Is loading all or nothing, on a terminal as in a script?"""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from importlib.resources import as_file
from pathlib import Path

import pytest

import demo_data
from fleet.cli.progress import Rows
from tests.fleet.cli.conftest import Dueward


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_load_tells_what_each_table_brought(dueward: Dueward, files: Path) -> None:
    result = dueward("load", str(files))

    assert (result.exit_code, result.stderr) == (0, "")
    assert json.loads(result.stdout) == [
        {"table": "rules", "new": 1, "changed": 0, "unchanged": 0},
        {"table": "sites", "new": 2, "changed": 0, "unchanged": 0},
        {"table": "units", "new": 2, "changed": 0, "unchanged": 0},
        {"table": "people", "new": 2, "changed": 0, "unchanged": 0},
        {"table": "entries", "new": 4, "changed": 0, "unchanged": 0},
    ]


def test_loading_the_same_again_changes_nothing(loaded: Dueward, files: Path) -> None:
    assert loaded("load", str(files / "units.csv"), "--format", "table").stdout == (
        "table  new  changed  unchanged\nunits    0        0          2\n"
    )


def test_a_dry_run_leaves_no_database_behind(dueward: Dueward, files: Path, tmp_path: Path) -> None:
    result = dueward("load", str(files), "--dry-run")

    assert result.exit_code == 0
    assert result.stderr == "nothing was written: this was a dry run\n"
    assert len(json.loads(result.stdout)) == 5
    assert names(tmp_path) == {"files"}


def test_a_refused_load_leaves_no_database_behind(
    dueward: Dueward, files: Path, tmp_path: Path
) -> None:
    units = files / "units.csv"
    units.write_text(units.read_text().replace("alder,2025-01-06", "aldr,31/02/2026"))

    result = dueward("load", str(files))

    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines()[0] == (
        "units.csv row 2, in_service_on: '31/02/2026' is not a date; write it as YYYY-MM-DD"
    )
    assert names(tmp_path) == {"files"}


def test_a_refused_load_leaves_the_database_as_it_was(loaded: Dueward, files: Path) -> None:
    before = loaded("due").stdout
    (files / "entries.csv").write_text(
        "property_number,task,on,mark\nA-1,optics,2026-03-02,done\nA-9,optics,2026-03-02,done\n"
    )

    result = loaded("load", str(files / "entries.csv"))

    assert result.exit_code == 2
    assert "A-9" in result.stderr
    assert loaded("due").stdout == before


def test_a_folder_that_is_not_there_is_named(dueward: Dueward, tmp_path: Path) -> None:
    result = dueward("load", str(tmp_path / "none"))

    assert (result.exit_code, result.stdout) == (2, "")
    assert (
        result.stderr == f"{tmp_path / 'none'}: there is no such file or folder; check the path\n"
    )


def test_a_database_in_a_folder_that_is_not_there_is_refused(
    dueward: Dueward, files: Path, tmp_path: Path
) -> None:
    result = dueward("load", str(files), "--database", f"sqlite:///{tmp_path}/none/x.db")

    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr == (
        f"{tmp_path}/none/x.db: there is no folder {tmp_path}/none; make it first\n"
    )


def test_control_c_in_the_middle_of_a_load_leaves_nothing_behind(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'own.db'}"
    with as_file(demo_data.files()) as folder:
        process = subprocess.Popen(
            [sys.executable, "-m", "fleet", "load", str(folder), "--database", url],
            cwd=Path(__file__).parents[3],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        until = time.monotonic() + 30
        while not list(tmp_path.glob("*/made.db")) and time.monotonic() < until:
            time.sleep(0.01)
        time.sleep(0.2)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=30)

    assert (process.returncode, out) == (130, "")
    assert err == "interrupted; the database holds nothing half-written\n"
    assert names(tmp_path) == set()


def test_progress_is_told_on_a_terminal_after_a_second(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    times: Iterator[float] = iter([0.0, 0.5, 1.5])
    rows = Rows("Reading rows", lambda: next(times))

    rows.step(1000)
    assert capsys.readouterr().err == ""
    rows.step(1000)
    rows.close()

    assert "Reading rows" in (told := capsys.readouterr().err)
    assert "2000" in told


def test_progress_is_not_told_elsewhere(capsys: pytest.CaptureFixture[str]) -> None:
    times: Iterator[float] = iter([0.0, 5.0])
    rows = Rows("Reading rows", lambda: next(times))

    rows.step(1000)
    rows.close()

    assert capsys.readouterr().err == ""
