"""Two databases for what is promised on both: a SQLite file and a private PostgreSQL server."""

from __future__ import annotations

import datetime as dt
import itertools
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from fleet.storage import SqlStore, create, open_store

_SERIAL = itertools.count(1)
NOON = dt.datetime(2026, 3, 2, 12, 0, tzinfo=dt.UTC)


@pytest.fixture(scope="session")
def postgres_address() -> Iterator[str]:
    """The folder of the socket of a server that lives as long as the tests do."""
    programs = _programs()
    if programs is None:
        reason = "PostgreSQL is not installed: no initdb in /usr/lib/postgresql/*/bin or on PATH"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    user = _server_user()
    folder = Path(tempfile.mkdtemp(prefix="pg-"))
    if user is not None:
        shutil.chown(folder, user)
    server = [str(programs / "pg_ctl"), "--pgdata", str(folder / "data"), "--silent"]
    settings = f"-k {folder} -c listen_addresses= -c fsync=off"
    try:
        _run(
            [
                *(str(programs / "initdb"), "--pgdata", str(folder / "data"), "--auth=trust"),
                *("--username=owner", "--encoding=UTF8", "--no-sync"),
            ],
            user,
        )
        log = str(folder / "log")
        _run([*server, "--log", log, "--options", settings, "--wait", "start"], user)
        yield str(folder)
        _run([*server, "--mode=immediate", "stop"], user)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(
    params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)],
)
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The address of a database without tables, on either database."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'fleet.db'}"
    return new_postgres_database(request.getfixturevalue("postgres_address"))


@pytest.fixture
def fleet_url(empty_url: str) -> str:
    """The address of a fleet without sites, on either database."""
    create(empty_url)
    return empty_url


@pytest.fixture
def store(fleet_url: str) -> Iterator[SqlStore]:
    """An open fleet without sites, on either database; its clock stands at noon."""
    with closing(open_store(fleet_url, clock=lambda: NOON)) as opened:
        yield opened


def new_postgres_database(address: str) -> str:
    """Make a database of its own on the private server; answers its address."""
    import psycopg

    name = f"fleet{next(_SERIAL)}"
    with psycopg.connect(host=address, user="owner", dbname="postgres", autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}".encode())
    return f"postgresql://owner@/{name}?host={address}"


def _programs() -> Path | None:
    """The folder of the server's programs, the newest version first."""
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=_version, reverse=True)
    for folder in folders:
        if (folder / "initdb").exists():
            return folder
    found = shutil.which("initdb")
    return None if found is None else Path(found).resolve().parent


def _version(folder: Path) -> float:
    return float(folder.parent.name)


def _server_user() -> str | None:
    """Root may not run the server: another user does."""
    if os.geteuid() != 0:
        return None
    known = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in known else "nobody"


def _run(command: list[str], user: str | None) -> None:
    if user is not None:
        command = ["runuser", "--user", user, "--", *command]
    done = subprocess.run(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, cwd="/"
    )
    if done.returncode != 0:
        pytest.fail(f"{' '.join(command)}: {done.stderr}")
