"""The fleet of the scans, a database a test."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from fleet.domain.prints import Print
from tests.fleet.services.scans.scan_fleet import JANUARY, MAY, ScanFleet, made_fleet, printed


@pytest.fixture
def fleet(tmp_path: Path) -> Iterator[ScanFleet]:
    """The fleet, in May."""
    made = made_fleet(tmp_path)
    with closing(made.program):
        made.now[0] = MAY
        yield made


@pytest.fixture
def chart(fleet: ScanFleet) -> Print:
    """The chart of A-1, printed in January."""
    return printed(fleet.program, JANUARY)
