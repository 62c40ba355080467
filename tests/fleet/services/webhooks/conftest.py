"""The fleet that is told of, on both databases."""

from __future__ import annotations

import pytest

from fleet.storage import SqlStore
from tests.fleet.services.webhooks.told_fleet import Told, told_fleet


@pytest.fixture
def told(store: SqlStore) -> Told:
    """Two sites with a microscope each; nobody is told yet."""
    return told_fleet(store)
