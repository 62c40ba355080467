"""When may mail reach whom? Who is away, when it is quiet, and what was set otherwise than usual.

They are register records: loaded from files, changed by change lines, known at an instant.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

__all__ = ["Absence", "MailSetting", "QuietPeriod"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Absence:
    """Days on which a person is away, both included; meanwhile their mail goes to a deputy."""

    email: str
    from_on: dt.date
    to_on: dt.date
    deputy: str = ""
    """An address; '' means the deputy of the people file."""

    @property
    def key(self) -> tuple[str, ...]:
        """Address and first day."""
        return (self.email, self.from_on.isoformat())


@dataclass(frozen=True, slots=True, kw_only=True)
class QuietPeriod:
    """Days, both included, on which no mail but calendar changes goes to the people of a site."""

    site: str
    """'' means everybody."""
    from_on: dt.date
    to_on: dt.date
    reason: str

    @property
    def key(self) -> tuple[str, ...]:
        """Site and first day."""
        return (self.site, self.from_on.isoformat())


@dataclass(frozen=True, slots=True, kw_only=True)
class MailSetting:
    """One setting of the mail that is not left as it comes (`fleet.services.mail_settings`)."""

    name: str
    value: str

    @property
    def key(self) -> tuple[str, ...]:
        """The name."""
        return (self.name,)
