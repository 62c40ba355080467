"""What is kept of vendor visits? Plans, their visits, and days that suit a site or technician not.

They are register records: what was planned, told and done changes by change lines alone, and stays
readable as it was. A plan's trips stand in an attached file, known by its hash.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from enum import StrEnum

from schedules.visits.model import Grade

__all__ = ["SiteVisit", "StoredPlan", "TechnicianDaysOff", "UnsuitableDays", "VisitState"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPlan:
    """A plan as it was kept; never changed, a new one follows it."""

    number: str
    """'P-0001'."""
    made_on: dt.date
    from_on: dt.date
    to_on: dt.date
    """The span it was made for, both days included."""
    follows: str = ""
    """The plan it was re-planned from, or ''."""
    seed: int
    iterations: int
    versions: str
    """Of what planned it, as 'numba 0.68.1; highs 1.16.0'."""
    content: str
    """The SHA-256 of the attached file that holds what it was made from and its trips."""

    @property
    def key(self) -> tuple[str, ...]:
        """The number."""
        return (self.number,)


class VisitState(StrEnum):
    """What has become of a visit."""

    PLANNED = "planned"
    DONE = "done"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteVisit:
    """A vendor's visit of a site; its number is its own for life, whatever plan it stands in."""

    number: str
    """'V-0001'."""
    plan: str
    """The plan it stands in now, or stood in last."""
    technician: str
    vendor: str
    site: str
    trip_on: dt.date
    """The day its trip starts: with the technician it names the trip."""
    on: dt.date
    to_on: dt.date
    """The days its first service begins and its last ends."""
    from_at: str
    to_at: str
    """When, by the site's clock: '09:00'."""
    needs: str
    """The names of its needs (UNIT/TASK/DUE) in the order they are served, as a JSON list."""
    grade: Grade = Grade.FREE
    state: VisitState = VisitState.PLANNED
    told_on: dt.date | None = None
    """The day that its site was told it would be on; None: nobody was told."""
    done_on: dt.date | None = None
    not_done: str = ""
    """Which of its needs were not served, and why, as a JSON object; '' for none."""
    reason: str = ""
    """Why it was cancelled."""

    @property
    def key(self) -> tuple[str, ...]:
        """The number."""
        return (self.number,)

    @property
    def need_names(self) -> tuple[str, ...]:
        """Its needs; their units bear the numbers they had when the visit was written."""
        return tuple(json.loads(self.needs))

    @property
    def reasons(self) -> dict[str, str]:
        """Why needs were not served, by their names."""
        found: dict[str, str] = json.loads(self.not_done or "{}")
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class UnsuitableDays:
    """Days, both included, on which a site is open but wants no visit."""

    site: str
    from_on: dt.date
    to_on: dt.date
    reason: str

    @property
    def key(self) -> tuple[str, ...]:
        """Site and first day."""
        return (self.site, self.from_on.isoformat())


@dataclass(frozen=True, slots=True, kw_only=True)
class TechnicianDaysOff:
    """Days, both included, on which a vendor's technician cannot come."""

    technician: str
    from_on: dt.date
    to_on: dt.date
    reason: str

    @property
    def key(self) -> tuple[str, ...]:
        """Technician and first day."""
        return (self.technician, self.from_on.isoformat())
