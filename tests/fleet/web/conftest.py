"""The pages of a small state, a database a test."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.fleet.web.lab import Lab, make_lab


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    """The pages of the small state."""
    made = make_lab(tmp_path)
    with closing(made.program):
        yield made
