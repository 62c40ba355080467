"""Where the small trials of `tests.studies.survival` stand: a file, or the private server."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.studies.survival.places import Place


@pytest.fixture(params=["SQLite", pytest.param("PostgreSQL", marks=pytest.mark.postgres)])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Place:
    """One of the two databases."""
    if request.param == "SQLite":
        return Place("SQLite", tmp_path)
    return Place("PostgreSQL", tmp_path, request.getfixturevalue("postgres_address"))
