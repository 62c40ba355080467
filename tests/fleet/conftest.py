"""Two databases for what is promised on both: a SQLite file and a private PostgreSQL server."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from fleet.storage import SqlStore, create, open_store
from tests.fleet.copy_places import other_url, rich
from tests.postgres_server import MISSING, new_database, programs, running

__all__ = ["other_url", "rich"]

NOON = dt.datetime(2026, 3, 2, 12, 0, tzinfo=dt.UTC)


@pytest.fixture(scope="session")
def postgres_address() -> Iterator[str]:
    """The folder of the socket of a server that lives as long as the tests do."""
    folder = programs()
    if folder is None:
        if os.environ.get("CI") == "true":
            pytest.fail(MISSING)
        pytest.skip(MISSING)
    with running(folder) as address:
        yield address


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
    return new_database(address)


@pytest.fixture
def sqlite_store(tmp_path: Path) -> Iterator[SqlStore]:
    """An open fleet without sites, on SQLite."""
    url = f"sqlite:///{tmp_path / 'fleet.db'}"
    create(url)
    with closing(open_store(url, clock=lambda: NOON)) as opened:
        yield opened


@pytest.fixture
def postgresql_url(postgres_address: str) -> str:
    """The address of a fleet without sites, on PostgreSQL; mark the test `postgres`."""
    url = new_postgres_database(postgres_address)
    create(url)
    return url


@pytest.fixture
def postgresql_store(postgresql_url: str) -> Iterator[SqlStore]:
    """The same, open."""
    with closing(open_store(postgresql_url, clock=lambda: NOON)) as opened:
        yield opened
