"""How is a mark put on the record, and how is one corrected (design 5, 6)?

What is possible but probably a slip is refused until the person says it is meant.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from operator import attrgetter
from zoneinfo import ZoneInfo

from fleet.domain.records import Entry, Mark, StoredEntry, Unit
from fleet.domain.register import Register
from fleet.domain.texts import (
    INITIALS_LENGTH,
    KEY_LENGTH,
    PROSE_LENGTH,
    Wrong,
    check_prose,
    check_reading,
    check_text,
)
from fleet.errors import BadInput, Doubtful, Fault, KeyTaken, NotFound
from fleet.services.calendars import CalendarMaker
from fleet.services.columns import book_of, fleet_columns
from fleet.services.kept import rebuild
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.why import unit_of
from schedules.dates import day_of
from schedules.rules import Basis, Rule

__all__ = ["mark", "strike"]


def mark(
    record: Record, public_holidays: PublicHolidays, entry: Entry, *, anyway: bool, stamp: Stamp
) -> tuple[StoredEntry, bool]:
    """Write one entry (an empty key gets the next free one) and say whether it is new.

    The same key and content again answers with the entry that stands. Raises NotFound, BadInput,
    Doubtful (unless `anyway`) and KeyTaken. The caller commits.
    """
    standing = _standing(record, entry)
    if standing is not None:
        return standing, False
    register = record.register()
    unit = unit_of(register, entry.property_number)
    rule = _rule(register, unit, entry)
    _check_form(entry)
    if not anyway:
        for doubt in _doubts(record, register, public_holidays, unit, rule, entry, stamp):
            raise Doubtful(doubt)
    return _append(record, public_holidays, entry, stamp), True


def strike(
    record: Record,
    public_holidays: PublicHolidays,
    key: str,
    why: str,
    replace_with: Mark | None,
    *,
    stamp: Stamp,
    new_key: str = "",
) -> StoredEntry:
    """Correct an entry: strike it, or replace its mark; the struck entry stays readable.

    The same `new_key` and content again answers with the correction that stands. Raises NotFound,
    KeyTaken, BadInput where it is struck already or no reason is given. The caller commits.
    """
    found = record.stored([key]).get(key)
    if found is None:
        raise NotFound("entry", key, "keys stand in the answer of mark and in gaps --format json")
    if not why.strip():
        raise BadInput([Fault("strike", None, "why", "no reason is given", "say why with --why")])
    entry = found.entry
    correction = Entry(
        key=new_key,
        property_number=entry.property_number,
        task=entry.task,
        on=entry.on,
        to_on=entry.to_on,
        mark=replace_with,
        initials=entry.initials if replace_with else "",
        strikes=key,
        why=why.strip(),
    )
    _check_form(correction)
    standing = _standing(record, correction)
    if standing is not None:
        return standing
    _refuse_struck(record, entry)
    return _append(record, public_holidays, correction, stamp)


def _refuse_struck(record: Record, entry: Entry) -> None:
    unit_id = record.unit_ids()[entry.property_number]
    for other in record.entries([unit_id], entry.task):
        if other.entry.strikes == entry.key:
            problem = f"it was struck already, by {other.entry.key}"
            mend = "if it was done, write a new mark"
            raise BadInput([Fault(f"entry {entry.key}", None, None, problem, mend)])


def _append(
    record: Record, public_holidays: PublicHolidays, entry: Entry, stamp: Stamp
) -> StoredEntry:
    if not entry.key:
        entry = replace(entry, key=_free_key(record, entry))
    record.append([entry], stamp)
    rebuild(record, [record.unit_ids()[entry.property_number]], public_holidays)
    return record.stored([entry.key])[entry.key]


def _free_key(record: Record, entry: Entry) -> str:
    """The next of the keys that entries without one get: property number/task/on/n."""
    number = 1
    while True:
        keys = [
            f"{entry.property_number}/{entry.task}/{entry.on}/{n}"
            for n in range(number, number + 20)
        ]
        taken = record.stored(keys)
        free = [key for key in keys if key not in taken]
        if free:
            return free[0]
        number += 20


def _standing(record: Record, entry: Entry) -> StoredEntry | None:
    """The entry that stands under the key already; KeyTaken if its content is other."""
    standing = record.stored([entry.key]).get(entry.key) if entry.key else None
    if standing is not None:
        _check_same(standing.entry, entry)
    return standing


def _check_same(standing: Entry, entry: Entry) -> None:
    names = (
        "property_number", "task", "on", "to_on", "mark", "initials", "note", "reading",
        "strikes", "why",
    )  # fmt: skip
    for name in names:
        if getattr(standing, name) != getattr(entry, name):
            raise KeyTaken(entry.key, name)


def _rule(register: Register, unit: Unit, entry: Entry) -> Rule | None:
    kind = book_of(register).kinds.get(unit.kind)
    tasks = kind.tasks(unit.model) if kind else {}
    if entry.task not in tasks:
        raise NotFound("task", entry.task, f"a {unit.kind} has: {', '.join(sorted(tasks))}")
    return next((rule for rule in tasks[entry.task] if rule.speaks_on(entry.on)), None)


def _check_form(entry: Entry) -> None:
    """Refuse what no file may hold either (`fleet.domain.texts`)."""
    wrongs = {
        "key": check_text(entry.key, KEY_LENGTH),
        "initials": check_text(entry.initials, INITIALS_LENGTH),
        "note": check_prose(entry.note, PROSE_LENGTH),
        "why": check_prose(entry.why, PROSE_LENGTH),
        "reading": check_reading(entry.reading) if entry.reading else None,
    }
    if entry.mark is Mark.EXPLAINED and not entry.note.strip() and not entry.strikes:
        wrongs["note"] = Wrong("an explained mark needs its reason", "give --note")
    faults = [
        Fault("mark" if not entry.strikes else "strike", None, name, wrong.problem, wrong.mend)
        for name, wrong in wrongs.items()
        if wrong is not None
    ]
    if faults:
        raise BadInput(faults)


def _doubts(
    record: Record,
    register: Register,
    public_holidays: PublicHolidays,
    unit: Unit,
    rule: Rule | None,
    entry: Entry,
    stamp: Stamp,
) -> Iterator[str]:
    """What makes an entry doubtful, one sentence each, the gravest first."""
    name, on = unit.property_number, entry.on
    today = _today(register, unit, stamp.at)
    is_cell = rule is not None and rule.basis is Basis.CELL
    if on > today:
        yield f"{on} lies in the future (today is {today})"
    if rule is None:
        yield f"no rule of '{entry.task}' is in force on {on}"
    if on < unit.in_service_on and (is_cell or entry.mark is not Mark.DONE):
        yield f"{on} lies before unit {name} entered service on {unit.in_service_on}"
    if rule is not None and not is_cell and entry.mark is not Mark.DONE:
        yield f"'{entry.task}' counts the days it was done, and '{entry.mark}' says nothing of them"
    if unit.retired_on is not None and on >= unit.retired_on:
        yield f"unit {name} was retired on {unit.retired_on}"
    yield from _closed_day(record, register, public_holidays, unit, is_cell, on)
    yield from _marked_already(record, entry, rule)


def _today(register: Register, unit: Unit, at: dt.datetime) -> dt.date:
    """The civil date of an instant where the unit then stands."""
    site = unit.site
    moves = [p for p in register.placements.values() if p.property_number == unit.property_number]
    for move in sorted(moves, key=attrgetter("from_on")):
        zone = ZoneInfo(register.sites[(move.site,)].time_zone)
        if move.from_on <= at.astimezone(zone).date():
            site = move.site
    return at.astimezone(ZoneInfo(register.sites[(site,)].time_zone)).date()


def _closed_day(
    record: Record,
    register: Register,
    public_holidays: PublicHolidays,
    unit: Unit,
    is_cell: bool,
    on: dt.date,
) -> Iterator[str]:
    calendars = CalendarMaker(register, record.holiday_years(), public_holidays)
    fleet = fleet_columns(register, book_of(register), calendars, [unit])
    if fleet.columns.is_out(day_of(on))[0]:
        yield f"unit {unit.property_number} was out of service on {on}"
    site = fleet.sites[int(fleet.columns.calendars_on(day_of(on))[0])]
    closed = fleet.calendar(site, on, on).why_closed(on)
    if is_cell and closed is not None:
        yield f"site {site.site} is closed on {on} ({closed.reason})"


def _marked_already(record: Record, entry: Entry, rule: Rule | None) -> Iterator[str]:
    """A day that has as many marks as the rule asks for (one, for a dated rule's done).

    A span counts for each of its days; a closed one among them is doubtful for that reason.
    """
    unit_id = record.unit_ids()[entry.property_number]
    entries = [stored.entry for stored in record.entries([unit_id], entry.task)]
    struck = {other.strikes for other in entries if other.strikes}
    is_cell = rule is not None and rule.basis is Basis.CELL
    standing = [
        other
        for other in entries
        if other.mark is not None and other.key not in struck
        if other.on <= entry.on <= (other.to_on or other.on)
        if other.mark is entry.mark or (is_cell and other.mark is not Mark.FILLED)
    ]
    if len(standing) >= (rule.times if rule is not None else 1):
        last = standing[-1]
        by = f" by {last.initials}" if last.initials else ""
        yield f"{entry.on} is marked {last.mark} already{by} (entry {last.key})"
