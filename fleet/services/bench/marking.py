"""How is something marked at the bench, taken back, or said not to be in use?

Marks are lines that are only added. Where two people mark one cell, both lines stay; taking one
back is a correction that names it. A mark that waited for a network says so in its note.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from fleet.domain.records import Entry, Mark, StoredEntry
from fleet.errors import BadInput, Fault, NotFound
from fleet.services.bench.sheet import BenchSheet, Touch
from fleet.services.columns import book_of
from fleet.services.entry_effects import Effects, effects
from fleet.services.mark import mark, strike
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.readings import limits_words, rule_on
from fleet.services.standing import day_at, site_of
from fleet.services.why import unit_of
from schedules.rules import Rule

__all__ = ["Asked", "Saved", "leave_unused", "save_mark", "take_back"]

_MOST_DAYS_BACK: Final = 7
"""What is older is a gap to explain, by the site's lead."""
_AHEAD: Final = dt.timedelta(days=1)
_WAITED: Final = dt.timedelta(minutes=10)
_TAKEN_BACK_WITHIN: Final = dt.timedelta(hours=24)
WHY_BACK: Final = "taken back at the bench"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One mark as the bench gives it; noted_at: when the person touched it, if that is known."""

    property_number: str
    task: str
    on: dt.date
    mark: Mark
    initials: str
    key: str
    reading: str = ""
    note: str = ""
    noted_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True)
class Saved:
    """What stands now; is_new False: the same was sent before."""

    stored: StoredEntry
    is_new: bool
    effects: Effects


def save_mark(
    record: Record,
    public_holidays: PublicHolidays,
    site: str,
    asked: Asked,
    stamp: Stamp,
    *,
    anyway: bool,
) -> Saved:
    """Write a mark of the site's bench; the caller commits.

    Raises NotFound for a unit that does not stand at the site on that day, BadInput for a day out
    of reach, a reading that is missing or no number; else as `mark`, for which `anyway` counts.
    """
    before = record.register()
    unit = unit_of(before, asked.property_number)
    if site_of(before, unit, asked.on) != site:
        raise NotFound("unit", asked.property_number, "it does not stand at this site that day")
    standing = record.stored([asked.key]).get(asked.key)
    if standing is None:
        _refuse_day(record, site, asked, stamp)
    kind = book_of(before).kinds.get(unit.kind)
    rule = rule_on(kind.tasks(unit.model).get(asked.task, ()), asked.on) if kind else None
    entry = Entry(
        key=asked.key,
        property_number=unit.property_number,
        task=asked.task,
        on=asked.on,
        mark=asked.mark,
        initials=asked.initials,
        reading=_reading(asked, rule),
        note=_note(asked, stamp, standing),
    )
    stored, is_new = mark(record, public_holidays, entry, anyway=anyway, stamp=stamp, beside=True)
    return Saved(stored, is_new, effects(record, stored.entry, before))


def _refuse_day(record: Record, site: str, asked: Asked, stamp: Stamp) -> None:
    today = day_at(record.register().sites[(site,)], stamp.at)
    if asked.noted_at is not None and asked.noted_at > stamp.at + _AHEAD:
        raise _refused("noted_at", "this device's clock is ahead by more than a day", "set it")
    if asked.on < today - dt.timedelta(days=_MOST_DAYS_BACK):
        mend = "ask the site's lead, who explains what was not marked"
        raise _refused("on", f"{asked.on} is more than {_MOST_DAYS_BACK} days ago", mend)


def _reading(asked: Asked, rule: Rule | None) -> str:
    """The reading with a point; people write a comma, a sign of degrees, spaces."""
    given = asked.reading.replace(",", ".").replace("\N{MINUS SIGN}", "-")
    given = given.strip().rstrip("\N{DEGREE SIGN}CF%").strip()
    wanted = rule is not None and rule.range is not None and asked.mark is Mark.DONE
    if wanted and not given and rule is not None and rule.range is not None:
        allowed = limits_words(rule.range)
        raise _refused("reading", "no reading is given", f"write what you read ({allowed})")
    return given


def _note(asked: Asked, stamp: Stamp, standing: StoredEntry | None) -> str:
    """What was noted, and when, if it reached us later.

    What is sent again, since its answer was lost, may come late though it was in time before.
    """
    told = ""
    if asked.noted_at is not None:
        noted = f"noted at the bench at {asked.noted_at:%Y-%m-%dT%H:%MZ}, sent later"
        told = f"{asked.note} ({noted})" if asked.note else noted
    if standing is not None and standing.entry.note in (asked.note, told or asked.note):
        return standing.entry.note
    is_late = asked.noted_at is not None and stamp.at - asked.noted_at >= _WAITED
    return told if is_late else asked.note


def leave_unused(
    record: Record,
    public_holidays: PublicHolidays,
    sheet: BenchSheet,
    numbers: Sequence[str] | None,
    initials: str,
    stamp: Stamp,
) -> int:
    """Say of some units (None: all of the room) that they are not in use today; how many cells.

    Only cells of the day that are open; weeks and months are still to be done. The caller commits.
    """
    touches: list[Touch] = [
        touch
        for touch in sheet.touches
        if touch.is_open and touch.is_daily
        if numbers is None or touch.property_number in numbers
    ]
    for touch in touches:
        asked = Asked(
            property_number=touch.property_number,
            task=touch.task,
            on=touch.on,
            mark=Mark.UNUSED,
            initials=initials,
            key=touch.key,
        )
        save_mark(record, public_holidays, sheet.site.site, asked, stamp, anyway=False)
    return len(touches)


def take_back(
    record: Record,
    public_holidays: PublicHolidays,
    site: str,
    key: str,
    initials: str,
    stamp: Stamp,
    *,
    why: str = WHY_BACK,
) -> StoredEntry:
    """Take back a mark of the last day, of this site's bench; the caller commits.

    The mark stays readable, with who took it back. Sent twice, it answers with what stands. Raises
    NotFound for the mark of another site, BadInput for one that is older.
    """
    stored = record.stored([key]).get(key)
    if stored is None or not _is_of(record, stored, site):
        raise NotFound("mark", key, "it is not of this site")
    if stamp.at - stored.stored_at > _TAKEN_BACK_WITHIN:
        mend = "ask the site's lead to correct it"
        raise _refused("key", f"{key} was marked more than a day ago", mend)
    return strike(
        record,
        public_holidays,
        key,
        why,
        None,
        stamp=stamp,
        new_key=f"{key}/back",
        initials=initials,
    )


def _is_of(record: Record, stored: StoredEntry, site: str) -> bool:
    register = record.register()
    unit = register.units[(stored.entry.property_number,)]
    return site_of(register, unit, stored.entry.on) == site


def _refused(field: str, problem: str, mend: str) -> BadInput:
    return BadInput([Fault("bench", None, field, problem, mend)])
