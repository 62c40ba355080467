"""Which months did the consultants review, and what did the vendor report of each service?

A month is signed in the month after it, once its charts have come back; those of October 2026 are
being reviewed on the story's last day, region by region.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator

from demo_data.scenario.chance import Chance
from demo_data.scenario.flaws import NEVER_REPORTED
from demo_data.scenario.instruments import UNITS
from demo_data.scenario.opening import FIRST_ON, LAST_ON, open_from
from demo_data.scenario.places import SITES
from demo_data.scenario.presence import is_present, site_on
from demo_data.scenario.staff import people
from fleet.domain.evidence import Review, ServiceReport
from fleet.domain.records import Entry, Role, Site

__all__ = ["RETURNED_LATE", "reports", "reviews"]

RETURNED_LATE = {("knox", "2026-08"): 19, ("brown", "2026-05"): 15, ("furnas", "2025-11"): 22}
"""Site and month of the charts that came back late, and by how many days after the month's end."""

_DAY = dt.timedelta(days=1)
_SIGNED_OCTOBER = frozenset({"Blue Valley", "Elkhorn Valley", "Platte Valley"})
"""The regions whose October 2026 is reviewed already."""
_TECHNICIANS = ("Robin Yarrowby", "Tatum Fenwald", "Imani Corbeth")
_FINDINGS = (
    "cleaned, aligned and checked; nothing to report",
    "cleaned, aligned and checked; lamp replaced",
    "cleaned and checked; a worn part was replaced",
    "within the maker's limits before and after",
)


def reports(entries: Iterable[Entry], vendor_tasks: frozenset[str]) -> list[ServiceReport]:
    """A report of each service that the vendor did within the record; central ones have none."""
    found = []
    for entry in entries:
        if entry.task in vendor_tasks and entry.on >= FIRST_ON and not entry.note:
            chance = Chance("report", entry.property_number, entry.task, entry.on.isoformat())
            found.append(
                ServiceReport(
                    property_number=entry.property_number,
                    task=entry.task,
                    on=entry.on,
                    vendor="Ovandel Service",
                    technician=chance.pick(_TECHNICIANS),
                    findings=chance.pick(_FINDINGS),
                    entry=f"{entry.property_number}/{entry.task}/{entry.on}/1",
                )
            )
    return sorted(found, key=lambda report: report.key)


def reviews() -> list[Review]:
    """What is known of each site and month: when its charts came back, and who signed it."""
    signers = {p.region: p.name for p in people() if p.role is Role.CONSULTANT}
    charted = _charted_months()
    return [
        review
        for site in SITES
        for month in _months()
        if (site.site, month) in charted and site.site != NEVER_REPORTED[0]
        if (review := _review(site, month, signers[site.region])) is not None
    ]


def _charted_months() -> set[tuple[str, str]]:
    """The sites and months in which a unit in service stood there."""
    days = [FIRST_ON + place * _DAY for place in range((LAST_ON - FIRST_ON).days + 1)]
    return {
        (site_on(unit, day), f"{day:%Y-%m}")
        for unit in UNITS
        for day in days
        if is_present(unit, day)
    }


def _months() -> Iterator[str]:
    """The months of the record that are over."""
    first = FIRST_ON.replace(day=1)
    while first < LAST_ON.replace(day=1):
        yield f"{first:%Y-%m}"
        first = (first + 31 * _DAY).replace(day=1)


def _review(site: Site, month: str, signer: str) -> Review | None:
    chance = Chance("review", site.site, month)
    ended_on = (dt.date.fromisoformat(f"{month}-01") + 31 * _DAY).replace(day=1) - _DAY
    late = RETURNED_LATE.get((site.site, month))
    if late is None:
        returned_on = open_from(site.site, ended_on + _DAY)
    else:
        returned_on = open_from(site.site, ended_on + late * _DAY)
    reviewed_on = open_from(site.site, returned_on + chance.whole(2, 9) * _DAY)
    is_last = month == f"{LAST_ON.replace(day=1) - _DAY:%Y-%m}"
    if (is_last and site.region not in _SIGNED_OCTOBER) or reviewed_on > LAST_ON:
        is_back = chance.happens(0.7) and returned_on <= LAST_ON
        return Review(site=site.site, month=month, returned_on=returned_on) if is_back else None
    return Review(
        site=site.site,
        month=month,
        returned_on=returned_on,
        reviewed_on=reviewed_on,
        reviewed_by=signer,
    )
