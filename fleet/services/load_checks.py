"""Do the rows of the register agree with each other, over the store and the files together?

What one row contradicts by itself was found when it was read. A fault is told at the row of a file
that makes it, also where the other half of it stands in the store.
"""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Iterable, Iterator, Mapping

from fleet.domain.evidence import Action, Extension, Review, ServiceReport
from fleet.domain.mail_times import Absence, MailSetting, QuietPeriod
from fleet.domain.prints import Print
from fleet.domain.records import (
    Closure,
    Holiday,
    Outage,
    Pattern,
    Person,
    Placement,
    RegisterRecord,
    Site,
    Unit,
)
from fleet.domain.visits import SiteVisit, TechnicianDaysOff, UnsuitableDays
from fleet.services.load_mail import check_mail
from fleet.services.load_merge import Merged
from fleet.services.load_numbers import check_renumberings
from fleet.services.load_ports import Faults, Row
from fleet.services.load_prints import check_prints
from fleet.services.load_visits import check_visits
from schedules.rules import RuleBook

__all__ = ["LONG_CLOSURE_DAYS", "check_register", "nearest", "register_remarks"]

LONG_CLOSURE_DAYS = 366
"""Closures longer than this are accepted with a remark."""

_AT_SITE: tuple[
    type[
        Pattern
        | Holiday
        | Closure
        | Unit
        | Placement
        | Person
        | Action
        | Review
        | Print
        | QuietPeriod
        | SiteVisit
        | UnsuitableDays
    ],
    ...,
]
_AT_SITE = (
    Pattern,
    Holiday,
    Closure,
    Unit,
    Placement,
    Person,
    Action,
    Review,
    Print,
    QuietPeriod,
    SiteVisit,
    UnsuitableDays,
)
_KEY_COLUMNS: Mapping[type[RegisterRecord], str] = {
    Pattern: "site and from",
    Holiday: "site, country, subdivision and on",
    Closure: "site, from and open",
    Placement: "property_number and from",
    Outage: "property_number and from",
    Person: "email, role, site and region",
    Extension: "property_number, task and from",
    Review: "site and month",
    Absence: "email and from",
    QuietPeriod: "site and from",
    MailSetting: "name",
    UnsuitableDays: "site and from",
    TechnicianDaysOff: "technician and from",
}
"""What may be withdrawn, and the columns that name it."""
_OF_UNIT: tuple[type[Placement | Outage | Extension | ServiceReport | Print], ...]
_OF_UNIT = (Placement, Outage, Extension, ServiceReport, Print)


def nearest(word: str, known: Iterable[str], otherwise: str) -> str:
    """Ask whether the nearest known name was meant; where none is near, say what else to do."""
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"did you mean '{close[0]}'?" if close else otherwise


def check_register(merged: Merged, book: RuleBook | None, faults: Faults) -> None:
    """Find everything in the rows given that cannot be.

    `book` is the one that would be in force; None (it could not be read) leaves kinds unchecked.
    """
    for at_site in _AT_SITE:
        for row in merged.rows(at_site).values():
            _check_site(merged, row, row.record.site, faults)
    for of_unit in _OF_UNIT:
        for about in merged.rows(of_unit).values():
            _check_unit(merged, about, about.record.property_number, faults)
    for unit in merged.rows(Unit).values():
        _check_kind(merged, unit, book, faults)
    _check_regions(merged, faults)
    check_renumberings(merged, faults)
    check_prints(merged, faults)
    check_mail(merged, faults)
    check_visits(merged, faults)
    _check_moves(merged, faults)
    _check_outages(merged, faults)
    for kind in _KEY_COLUMNS:
        _check_withdrawn(merged, kind, faults)


def _check_withdrawn(merged: Merged, kind: type[RegisterRecord], faults: Faults) -> None:
    """A withdrawn record stands, or was withdrawn before (the same files loaded again)."""
    missing = [key for key in merged.withdrawn(kind) if key not in merged.before(kind)]
    ever = merged.ever_withdrawn(kind) if missing else ()
    for key in missing:
        if key not in ever:
            row, name = merged.withdrawn(kind)[key], " ".join(part for part in key if part)
            problem = f"there is no {kind.__name__.lower()} '{name}'"
            mend = f"write {_KEY_COLUMNS[kind]} as they were loaded"
            faults.add(row.file, row.row, "withdrawn", problem, mend)


def _check_site(merged: Merged, row: Row[object], site: str, faults: Faults) -> None:
    if not site or (site,) in merged.now(Site) or merged.is_spoiled(Site, site):
        return
    known = [key[0] for key in merged.now(Site)]
    mend = nearest(site, known, "add it to sites, or correct its name")
    faults.add(row.file, row.row, "site", f"no site '{site}'", mend)


def _check_unit(merged: Merged, row: Row[object], number: str, faults: Faults) -> None:
    if (number,) in merged.now(Unit) or merged.is_spoiled(Unit, number):
        return
    mend = "add it to units, or correct the number"
    faults.add(row.file, row.row, "property_number", f"no unit '{number}'", mend)


def _check_kind(merged: Merged, row: Row[Unit], book: RuleBook | None, faults: Faults) -> None:
    unit, old = row.record, merged.before(Unit).get(row.record.key)
    if book is not None and unit.kind not in book.kinds:
        mend = nearest(unit.kind, book.kinds, f"the rule book has: {', '.join(book.kinds)}")
        faults.add(row.file, row.row, "kind", f"no kind '{unit.kind}' in the rule book", mend)
    elif old is not None and old.kind != unit.kind:
        problem = f"unit {unit.property_number} is a {old.kind} and cannot become a {unit.kind}"
        mend = "retire it and enter the other instrument under its own property number"
        faults.add(row.file, row.row, "kind", problem, mend)


def _check_regions(merged: Merged, faults: Faults) -> None:
    regions = {site.region for site in merged.now(Site).values() if site.region}
    for row in merged.rows(Person).values():
        region = row.record.region
        if region and region not in regions and not merged.is_spoiled(Site):
            mend = nearest(region, regions, "write a region that a site has, or leave it empty")
            faults.add(row.file, row.row, "region", f"no site lies in region '{region}'", mend)


def _check_moves(merged: Merged, faults: Faults) -> None:
    for placement in merged.now(Placement).values():
        unit = merged.now(Unit).get((placement.property_number,))
        if unit is None or placement.from_on > unit.in_service_on:
            continue
        problem = (
            f"unit {placement.property_number} moves on {placement.from_on}, not after it enters"
            f" service on {unit.in_service_on}"
        )
        mend = "where it stands first is the site in units; a placement is a later move"
        if move := merged.rows(Placement).get(placement.key):
            faults.add(move.file, move.row, "from", problem, mend)
        elif start := merged.rows(Unit).get(unit.key):
            faults.add(start.file, start.row, "in_service_on", problem, mend)


def _check_outages(merged: Merged, faults: Faults) -> None:
    given = merged.rows(Outage)
    of_unit: dict[str, list[Outage]] = {}
    for outage in merged.now(Outage).values():
        of_unit.setdefault(outage.property_number, []).append(outage)
    for number in dict.fromkeys(row.record.property_number for row in given.values()):
        for earlier, later in _overlaps(of_unit[number]):
            row = given.get(later.key) or given.get(earlier.key)
            if row is not None:
                other = earlier if row.record == later else later
                problem = f"it overlaps the outage of unit {number} {_span(other)}"
                mend = "outages of a unit may touch, not overlap ('to' is the day of return)"
                faults.add(row.file, row.row, "from", problem, mend)


def _overlaps(outages: list[Outage]) -> Iterator[tuple[Outage, Outage]]:
    """Each outage that begins before an earlier one has ended, after that earlier one."""
    in_order = sorted(outages, key=lambda outage: outage.from_on)
    longest = in_order[0]
    for outage in in_order[1:]:
        if _end(longest) > outage.from_on:
            yield longest, outage
        longest = max(longest, outage, key=_end)


def _end(outage: Outage) -> dt.date:
    return outage.to_on or dt.date.max


def _span(outage: Outage) -> str:
    end = f"to {outage.to_on}" if outage.to_on else "without an end"
    return f"from {outage.from_on} {end}"


def register_remarks(merged: Merged) -> Iterator[str]:
    """What is accepted though it may be a slip."""
    for row in merged.rows(Closure).values():
        days = (row.record.to_on - row.record.from_on).days + 1
        if days > LONG_CLOSURE_DAYS:
            yield f"{row.file} row {row.row}: a closure of {days} days was accepted"
    emails = {person.email for person in merged.now(Person).values()}
    for person in merged.rows(Person).values():
        if person.record.deputy and person.record.deputy not in emails:
            place = f"{person.file} row {person.row}"
            yield f"{place}: the deputy {person.record.deputy} is not among the people"
