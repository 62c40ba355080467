"""Are PostgreSQL's own programs found, fed and heard?"""

from __future__ import annotations

import subprocess
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from fleet.errors import StoreError
from fleet.storage import create
from fleet.storage.engines import parse_url
from fleet.storage.roles import add_login
from tests.fleet.backed_up import contents, put_back, refusal_of, saved, tables
from tests.fleet.storage.examples import ENTRY, add, load_units, open_now
from tests.postgres_server import new_database

pytestmark = pytest.mark.postgres


@pytest.fixture
def postgres_fleet(postgres_address: str) -> str:
    """The address of a fleet with one unit on PostgreSQL."""
    url = new_database(postgres_address)
    create(url)
    with closing(open_now(url)) as store:
        load_units(store, "M-001")
    return url


def test_a_missing_program_is_named_and_what_to_install(
    postgres_fleet: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleet.storage.postgres_tools._DEBIAN", tmp_path)
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(StoreError) as refused:
        saved(postgres_fleet, tmp_path / "a.dump")
    assert str(refused.value).startswith("pg_dump of PostgreSQL ")
    assert " or later is needed and not found; install PostgreSQL's client" in str(refused.value)
    assert list(tmp_path.iterdir()) == []


def test_an_older_program_is_not_taken(
    postgres_fleet: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "bin"
    folder.mkdir()
    (folder / "pg_dump").write_text("#!/bin/sh\necho 'pg_dump (PostgreSQL) 9.6.1'\n")
    (folder / "pg_dump").chmod(0o755)
    monkeypatch.setattr("fleet.storage.postgres_tools._DEBIAN", tmp_path)
    monkeypatch.setenv("PATH", str(folder))
    with pytest.raises(StoreError, match=r"not found \(there is one of version 9\); install"):
        saved(postgres_fleet, tmp_path / "a.dump")


def test_the_password_is_never_on_the_command_line(
    postgres_fleet: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    commands: list[tuple[list[str], dict[str, str]]] = []
    ran = subprocess.run

    def run(command: list[str], **how: Any) -> Any:
        commands.append((command, how.get("env", {})))
        return ran(command, **how)

    monkeypatch.setattr("fleet.storage.postgres_tools.subprocess.run", run)
    url = postgres_fleet.replace("owner@", "owner:s3cret-word@")
    saved(url, tmp_path / "a.dump")
    put_back(
        new_database(_host(url)).replace("owner@", "owner:s3cret-word@"),
        tmp_path / "a.dump",
    )
    with_database = [env for words, env in commands if any("--dbname=" in w for w in words)]
    assert [env["PGPASSWORD"] for env in with_database] == ["s3cret-word"] * 2
    assert not any("s3cret-word" in word for words, _ in commands for word in words)


def _host(url: str) -> str:
    return url.partition("host=")[2]


def test_a_damaged_dump_is_refused_and_leaves_nothing(
    postgres_fleet: str, postgres_address: str, tmp_path: Path
) -> None:
    file = tmp_path / "a.dump"
    saved(postgres_fleet, file)
    whole = file.read_bytes()
    for at in (len(whole) // 2, len(whole) - 40_000, len(whole) - 700):
        flipped = bytearray(whole)
        flipped[at] ^= 0x10
        file.write_bytes(flipped)
        target = new_database(postgres_address)
        refused = refusal_of(target, file)
        if refused is None:
            assert contents(target) == contents(postgres_fleet)
        else:
            assert refused.startswith(f"{file}: ")
            assert tables(target) == []


def test_a_backup_goes_back_to_its_own_kind_of_database(
    postgres_fleet: str, postgres_address: str, tmp_path: Path
) -> None:
    other = tmp_path / "other.db"
    other.write_bytes(b"SQLite format 3\0")
    saved(postgres_fleet, tmp_path / "a.dump")
    with pytest.raises(StoreError, match="use dueward export and dueward load"):
        put_back(f"sqlite:///{tmp_path / 'new.db'}", tmp_path / "a.dump")
    with pytest.raises(StoreError, match="this is no backup of a PostgreSQL database"):
        put_back(new_database(postgres_address), other)


def test_the_login_that_runs_the_program_backs_up_and_uses_what_is_restored(
    postgres_fleet: str, postgres_address: str, tmp_path: Path
) -> None:
    add_login(postgres_fleet, "nightly", None)
    saved(_as(postgres_fleet, "nightly"), tmp_path / "a.dump")
    fresh = new_database(postgres_address)

    put_back(fresh, tmp_path / "a.dump")

    with closing(open_now(_as(fresh, "nightly"))) as store:
        add(store, ENTRY)
        with store.begin() as record:
            assert [line.entry for line in record.entries()] == [ENTRY]


def _as(url: str, login: str) -> str:
    return parse_url(url).set(username=login).render_as_string()
