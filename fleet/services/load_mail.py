"""Do the rows that say when mail goes agree with the people, sites and settings there are?"""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

from fleet.domain.mail_times import Absence, MailSetting
from fleet.domain.records import Person, Site
from fleet.services.load_merge import Merged
from fleet.services.load_ports import Faults
from fleet.services.mail_settings import wrong_setting

__all__ = ["check_mail"]


def check_mail(merged: Merged, faults: Faults) -> None:
    """Find absences of and deputies whom nobody knows, absences that overlap, wrong settings."""
    known = _addresses(merged)
    is_spoiled = merged.is_spoiled(Person) or merged.is_spoiled(Site)
    for row in merged.rows(Absence).values():
        for column, email in (("email", row.record.email), ("deputy", row.record.deputy)):
            if email and email not in known and not is_spoiled:
                mend = "add it to people, or correct the address"
                faults.add(row.file, row.row, column, f"nobody has the address '{email}'", mend)
    _check_overlaps(merged, faults)
    for setting in merged.rows(MailSetting).values():
        wrong = wrong_setting(setting.record)
        if wrong is not None:
            faults.add(setting.file, setting.row, *wrong)


def _addresses(merged: Merged) -> set[str]:
    """Every address of people and of site leads, as files and commands read them."""
    people = {person.email for person in merged.now(Person).values()}
    return people | {site.lead_email for site in merged.now(Site).values()}


def _check_overlaps(merged: Merged, faults: Faults) -> None:
    absences: dict[str, list[Absence]] = defaultdict(list)
    for absence in merged.now(Absence).values():
        absences[absence.email].append(absence)
    given = merged.rows(Absence)
    for some in absences.values():
        some.sort(key=lambda absence: absence.from_on)
        for earlier, later in pairwise(some):
            row = given.get(later.key) or given.get(earlier.key)
            if later.from_on <= earlier.to_on and row is not None:
                problem = (
                    f"{later.email} is away from {later.from_on}, and from {earlier.from_on}"
                    f" to {earlier.to_on} already"
                )
                mend = "write them as one absence, or correct the dates"
                faults.add(row.file, row.row, "from", problem, mend)
