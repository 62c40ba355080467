"""Which changes of the register were stored after the days they change (design 4.6, 4.7)?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from zoneinfo import ZoneInfo

from fleet.domain.answers import FindingRow
from fleet.domain.evidence import Extension, Renumbering, ServiceReport
from fleet.domain.mail_times import Absence, MailSetting
from fleet.domain.records import (
    Closure,
    Holiday,
    Outage,
    Pattern,
    Placement,
    RegisterRecord,
    Site,
    Unit,
)
from fleet.domain.register import Change, Register
from fleet.domain.visits import StoredPlan, TechnicianDaysOff
from fleet.services.finding_words import backdated_words
from fleet.services.ports import ChangeLine, Record

__all__ = ["backdated_rows", "first_changed_on"]

Moves = dict[str, list[tuple[dt.date, str]]]
"""Property number to the days of its moves and the sites it came to."""
_ONE_DAY = dt.timedelta(days=1)
_DATES: dict[type[RegisterRecord], tuple[str, ...]] = {
    Holiday: ("on",),
    Closure: ("from_on", "to_on"),
    Unit: ("in_service_on", "retired_on", "record_from_on"),
    Outage: ("from_on", "to_on"),
}
"""The dates that a record of a class is about; names and reasons change no day."""


def backdated_rows(
    record: Record, from_on: dt.date, to_on: dt.date, known_at: dt.datetime | None
) -> Iterator[FindingRow]:
    """The change lines whose earliest day lies in the span, both ends included, and had passed by
    the clock of their site (UTC, where they are of no site) when they were stored.

    Lines stored after `known_at` are not there yet; those known from the beginning are none.
    """
    register = record.register(known_at)
    moves = _moves(register)
    for line in record.change_lines():
        if line.change.initial or (known_at is not None and line.stored_at > known_at):
            continue
        on = first_changed_on(line.change)
        if on is None or not from_on <= on <= to_on:
            continue
        site = _site(register, moves, line.change.record, on)
        stored_on = line.stored_at.astimezone(ZoneInfo(site.time_zone if site else "UTC")).date()
        if on < stored_on:
            yield _row(register, line, site, on, stored_on)


def first_changed_on(change: Change) -> dt.date | None:
    """The earliest day that may be another one by a change; None where there is none.

    A site counts for all its days and a person for none: both have no such day.
    """
    record = change.record
    if isinstance(record, Placement | Pattern):
        return record.from_on
    days: list[dt.date] = [
        day
        for name in _DATES.get(type(record), ())
        if (old := getattr(change.old, name, None)) != (new := getattr(change.new, name, None))
        for day in (old, new)
        if day is not None
    ]
    if isinstance(record, Closure) and days and change.old and change.new:
        return min(days) + _ONE_DAY
    return min(days, default=None)


def _moves(register: Register) -> Moves:
    moves: Moves = defaultdict(list)
    for move in register.placements.values():
        moves[move.property_number].append((move.from_on, move.site))
    return moves


def _site(register: Register, moves: Moves, record: RegisterRecord, on: dt.date) -> Site | None:
    """The site of a record, for a unit and its outages where it stood on the day; or None."""
    if isinstance(record, Unit | Outage | Extension | ServiceReport | Renumbering):
        past = [move for move in moves.get(record.property_number, ()) if move[0] <= on]
        issued_to = register.units[(record.property_number,)].site
        return register.sites[(max(past)[1] if past else issued_to,)]
    if isinstance(record, Absence | MailSetting | StoredPlan | TechnicianDaysOff):
        return None
    return register.sites[(record.site,)] if record.site else None


def _row(
    register: Register, line: ChangeLine, site: Site | None, on: dt.date, stored_on: dt.date
) -> FindingRow:
    record = line.change.record
    unit = None
    if isinstance(record, Unit | Placement | Outage):
        unit = register.units[(record.property_number,)]
    return FindingRow(
        site=site.site if site else "",
        county=site.county if site else "",
        region=site.region if site else "",
        property_number=unit.property_number if unit else "",
        kind=unit.kind if unit else "",
        task="",
        finding="backdated",
        period_from=None,
        period_to=None,
        opens=None,
        closes=None,
        on=on,
        entries=None,
        settle=backdated_words(line.change, stored_on, line.by),
    )
