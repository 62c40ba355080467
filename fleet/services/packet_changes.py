"""Which change lines of the register touch a site and its units?

A packet shows what these say. The others stand in it as hashes alone: the chain can be followed
past them, and other sites and their people are not handed out.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import replace

from fleet.domain.chain import Line
from fleet.domain.evidence import Extension, Renumbering, ServiceReport
from fleet.domain.mail_times import Absence, MailSetting, QuietPeriod
from fleet.domain.prints import Print
from fleet.domain.records import (
    Closure,
    Holiday,
    Outage,
    Placement,
    RegisterRecord,
    Site,
    Unit,
)
from fleet.domain.visits import StoredPlan, TechnicianDaysOff
from fleet.services.ports import ChangeLine

__all__ = ["changes_of", "shown_lines"]


def changes_of(
    lines: Iterable[ChangeLine], site: Site, numbers: AbstractSet[str]
) -> Iterator[ChangeLine]:
    """The lines of the site itself, of its calendar, its people, its charts and of some units."""
    for line in lines:
        if any(_touches(record, site, numbers) for record in (line.change.old, line.change.new)):
            yield line


def _touches(record: RegisterRecord | None, site: Site, numbers: AbstractSet[str]) -> bool:
    match record:
        case None:
            return False
        case Unit() | Placement() | Outage() | Extension() | ServiceReport() | Print():
            return record.property_number in numbers
        case Renumbering():
            return bool({record.former, record.property_number} & numbers)
        case Holiday(site=""):
            place = (record.country, record.subdivision)
            return place in ((site.country, site.subdivision), (site.country, ""))
        case Closure(site=""):
            return True
        case Absence() | QuietPeriod() | MailSetting():
            return False  # they say when mail goes, and nothing of what was maintained
        case StoredPlan() | TechnicianDaysOff():
            return False  # they are of many sites; the site's own visits are told
    return record.site == site.site


def shown_lines(lines: Iterable[Line], site: str, numbers: AbstractSet[str]) -> Iterator[Line]:
    """The lines; those of the register about other sites have no content.

    numbers: what the site's units are called in the chains.
    """
    for line in lines:
        is_shown = not line.chain.startswith("register/") or any(
            _names(json.loads(text), site, numbers)
            for text in (json.loads(line.content)["old"], json.loads(line.content)["new"])
            if text is not None
        )
        yield line if is_shown else replace(line, content="")


def _names(record: Mapping[str, str] | None, site: str, numbers: AbstractSet[str]) -> bool:
    """Say whether a record's JSON names the site, one of the units, or every site's calendar."""
    if record is None:
        return False
    if record.get("property_number"):
        return bool({record["property_number"], record.get("former", "")} & numbers)
    own = record.get("site")
    return own == site or (own == "" and "email" not in record)
