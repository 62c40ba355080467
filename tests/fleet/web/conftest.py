"""The pages of a small state, a database a test."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from fleet.domain.records import Role
from tests.fleet.web.lab import Browser, Lab, make_lab
from tests.fleet.web.planning_lab import asks, works


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    """The pages of the small state."""
    made = make_lab(tmp_path)
    with closing(made.program):
        yield made


@pytest.fixture
def manager(lab: Lab) -> Browser:
    """The manager's browser."""
    return lab.as_role(Role.MANAGER)


@pytest.fixture
def planned(lab: Lab, manager: Browser) -> Lab:
    """A plan was kept, and its pictures are drawn."""
    asks(manager)
    assert works(lab) == 2
    return lab
