"""What is kept beside the marks: reviews, corrective actions, service reports, extensions, numbers?

Register records like those of `fleet.domain.records`: each has a `key`, and changes only by change
lines, so that who wrote what when stays readable.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Action", "Attachment", "Effect", "Extension", "Renumbering", "Review", "ServiceReport"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """The consultant's look at one month of a site's charts; signed once `reviewed_on` is there."""

    site: str
    month: str
    """'2026-10'."""
    returned_on: dt.date | None = None
    """The day the month's charts came back from the site; None: not noted."""
    reviewed_on: dt.date | None = None
    reviewed_by: str = ""
    note: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """Site and month."""
        return (self.site, self.month)


class Effect(StrEnum):
    """Whether an action was found to have worked."""

    YES = "yes"
    NO = "no"


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """A problem, what was done about it, and whether that worked (42 CFR 493.1282, 493.1239).

    Open until `closed_on`; it is closed only with an action, a person and an effective review.
    """

    number: str
    """Its name: the property number (or site), the day it was opened, and a count."""
    site: str
    property_number: str = ""
    """Empty where the problem is one of the site, not of a unit."""
    task: str = ""
    entry: str = ""
    """The key of the entry that showed the problem; '' where none did."""
    opened_on: dt.date
    problem: str
    action: str = ""
    responsible: str = ""
    """Who acts."""
    review_on: dt.date | None = None
    """When it is to be looked at whether the action worked."""
    effective: Effect | None = None
    """None where it has not been looked at."""
    reviewed_by: str = ""
    closed_on: dt.date | None = None

    @property
    def key(self) -> tuple[str, ...]:
        """The number."""
        return (self.number,)


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceReport:
    """What a vendor reported of one service of one unit."""

    property_number: str
    task: str
    on: dt.date
    vendor: str = ""
    technician: str = ""
    findings: str = ""
    certificate: str = ""
    """The SHA-256 of the attached file, 64 hexadecimal digits; '' where none came."""
    certificate_name: str = ""
    """The name the file came under."""
    entry: str = ""
    """The key of the entry that says the service was done."""

    @property
    def key(self) -> tuple[str, ...]:
        """Unit, task and day."""
        return (self.property_number, self.task, self.on.isoformat())


@dataclass(frozen=True, slots=True, kw_only=True)
class Extension:
    """A due date put off with a reason: what is not done by its limit is due, not overdue, until
    `until_on` (included), unless it is done on or after `from_on`.
    """

    property_number: str
    task: str
    from_on: dt.date
    """The day it was granted."""
    until_on: dt.date
    reason: str
    granted_by: str

    @property
    def key(self) -> tuple[str, ...]:
        """Unit, task and day it was granted."""
        return (self.property_number, self.task, self.from_on.isoformat())


@dataclass(frozen=True, slots=True, kw_only=True)
class Renumbering:
    """A unit's change of property number; the former one stays findable."""

    former: str
    property_number: str
    """The number it bears from then on."""
    from_on: dt.date

    @property
    def key(self) -> tuple[str, ...]:
        """The former number: it is given up once."""
        return (self.former,)


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that is kept as it came, known by the SHA-256 of its content (64 hex digits)."""

    sha256: str
    name: str
    media_type: str
    size: int
    """Bytes."""
