"""Who is away, when is it quiet, and what of the mail is set otherwise than usual?"""

from __future__ import annotations

import datetime as dt

from fleet.domain.mail_times import Absence, MailSetting, QuietPeriod

__all__ = ["ABSENCES", "QUIET_PERIODS", "SETTINGS"]

_LEADS = "lead@county-labs.example"

ABSENCES = (
    Absence(
        email=f"adams.{_LEADS}",
        from_on=dt.date(2026, 12, 7),
        to_on=dt.date(2026, 12, 18),
        deputy=f"hall.{_LEADS}",
    ),
    Absence(email=f"boyd.{_LEADS}", from_on=dt.date(2026, 12, 14), to_on=dt.date(2026, 12, 18)),
)
"""One with a deputy and one without, after the day on which the demo is looked at."""
QUIET_PERIODS = (
    QuietPeriod(
        site="",
        from_on=dt.date(2026, 12, 24),
        to_on=dt.date(2027, 1, 1),
        reason="The laboratories run with a skeleton staff",
    ),
)
SETTINGS = (MailSetting(name="ladder_manager_days", value="28"),)
