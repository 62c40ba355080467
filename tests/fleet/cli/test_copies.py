"""What do `backup`, `restore` and `export` say, and with which exit code do they end?"""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from fleet.storage.append_only import expected_triggers
from tests.fleet.cli.conftest import Dueward


def answer(dueward: Dueward, *words: str, code: int = 0) -> dict[str, Any]:
    result = dueward(*words)
    assert result.exit_code == code, result.output
    told: dict[str, Any] = json.loads(result.stdout)
    return told


def test_a_backup_is_told_with_its_hash_root_and_size(loaded: Dueward, tmp_path: Path) -> None:
    file = tmp_path / "a.backup"
    told = answer(loaded, "backup", str(file))
    assert list(told) == ["file", "bytes", "sha256", "root", "lines", "flaws", "seconds"]
    assert (told["file"], told["bytes"]) == (str(file), file.stat().st_size)
    assert (len(told["sha256"]), len(told["root"]), told["flaws"]) == (64, 64, 0)


def test_backup_restore_export_and_load_tell_one_root(loaded: Dueward, tmp_path: Path) -> None:
    new, other = f"sqlite:///{tmp_path / 'new.db'}", f"sqlite:///{tmp_path / 'other.db'}"
    made = answer(loaded, "backup", str(tmp_path / "a.backup"))
    restored = answer(loaded, "restore", str(tmp_path / "a.backup"), "--database", new)
    exported = answer(loaded, "export", str(tmp_path / "out"), "--database", new)
    result = loaded("load", str(tmp_path / "out"), "--database", other)
    assert restored["root"] == exported["root"] == made["root"]
    assert restored["lines"] == exported["lines"] == made["lines"]
    assert result.stderr == (
        "the counts are of lines in lines.tsv, each change by itself;"
        " the CSV files were not read\n"
        f"root {made['root']}\n"
    )


def test_a_forged_entry_is_named_and_ends_with_3_where_asked(
    loaded: Dueward, tmp_path: Path
) -> None:
    with closing(sqlite3.connect(tmp_path / "own.db")) as connection, connection:
        connection.execute("DROP TRIGGER entry_no_update")
        connection.execute("UPDATE entry SET initials = 'XX' WHERE initials = 'GR'")
        connection.execute(expected_triggers()["entry_no_update"])
    flaw = "entry/A-1, line 2 (A-1/optics/2026-02-23/1): it was changed after it was written"
    made = loaded("backup", str(tmp_path / "a.backup"), "--check")
    assert (made.exit_code, made.stderr) == (
        3,
        f"{flaw}\nthe copy was kept: the database itself is not as it was written\n",
    )
    exported = loaded("export", str(tmp_path / "out"), "--check")
    assert (exported.exit_code, exported.stderr) == (
        3,
        f"{flaw}\nwhat is not as it was written will not load again from lines.tsv\n",
    )
    assert loaded("export", str(tmp_path / "again")).exit_code == 0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            ("backup", "{folder}/a.backup"),
            "{folder}/own.db: there is no fleet here yet, so there is nothing to back up\n",
        ),
        (
            ("restore", "{folder}/no.backup"),
            "{folder}/no.backup: there is no such file or folder; check the path\n",
        ),
        (
            ("export", "{folder}/out"),
            "{folder}/own.db: there is no fleet here yet; run dueward load or dueward demo\n",
        ),
    ],
)
def test_what_is_not_there_is_told(
    dueward: Dueward, tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    result = dueward(*(word.format(folder=tmp_path) for word in words))
    assert result.exit_code == 1
    assert result.stderr == told.format(folder=tmp_path)
    assert list(tmp_path.iterdir()) == []
