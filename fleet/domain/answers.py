"""What does an answer look like? The rows of `due` and `gaps` (design section 6), as values."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import NamedTuple

__all__ = ["FindingRow", "StatusRow"]


class StatusRow(NamedTuple):
    """One unit × rule on one day; the fields, in order, are the columns of `due`.

    A tuple, since a state's fleet has as many as it has units × rules.
    """

    site: str
    county: str
    region: str
    property_number: str
    kind: str
    task: str
    basis: str
    """anchored, fixed or cell."""
    state: str
    """retired, not in service yet, out of service, upcoming, due, overdue, or (cells only) done."""
    last_done: dt.date | None
    nominal: dt.date | None
    opens: dt.date | None
    due: dt.date | None
    limit: dt.date | None
    days_past_due: int | None
    open_days_past_due: int | None
    missed: int | None


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One finding of the record audit; the fields, in order, are the columns of `gaps`."""

    site: str
    county: str
    region: str
    property_number: str
    kind: str
    task: str
    finding: str
    period_from: dt.date | None
    period_to: dt.date | None
    opens: dt.date | None
    closes: dt.date | None
    on: dt.date | None
    entries: str | None
    """The keys of the entries it speaks of, joined by '; '; None where there is none."""
    settle: str
    """One sentence: what settles it."""
