"""Places for copies, and a record to copy, on both databases."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from fleet.storage import open_store
from tests.fleet.exported import NOW, fill
from tests.postgres_server import new_database

__all__ = ["other_url", "rich"]


@pytest.fixture
def other_url(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[[str], str]:
    """Makes a place without tables for a copy, on the database named."""

    def make(kind: str) -> str:
        if kind == "sqlite":
            return f"sqlite:///{Path(tempfile.mkdtemp(dir=tmp_path)) / 'copy.db'}"
        return new_database(request.getfixturevalue("postgres_address"))

    return make


@pytest.fixture
def rich(fleet_url: str) -> str:
    """A record with all that an export must not lose; its address."""
    with closing(open_store(fleet_url, clock=lambda: NOW)) as store:
        fill(store)
    return fleet_url
