"""What may programs ask? The operations of the API, which openapi.json describes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from fleet.web.api import (
    document,
    duties,
    marks,
    months,
    reports,
    sites,
    units,
    visits,
)
from fleet.web.routes import Operations

__all__ = ["ALL"]

ALL: Final[Sequence[Operations]] = (
    document.OPERATIONS,
    sites.OPERATIONS,
    units.OPERATIONS,
    duties.OPERATIONS,
    months.OPERATIONS,
    visits.OPERATIONS,
    marks.OPERATIONS,
    reports.OPERATIONS,
)
