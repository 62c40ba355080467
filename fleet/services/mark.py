"""How is a mark put on the record, a failed check, or a correction (design 5, 6)?

What is possible but probably a slip is refused until the person says it is meant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fleet.domain.evidence import Action
from fleet.domain.records import REMOVED, Entry, Mark, StoredEntry, Unit, blanked
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
from fleet.services.actions import open_action
from fleet.services.columns import book_of
from fleet.services.doubts import day_doubts, doubts
from fleet.services.entry_effects import Effects, follow
from fleet.services.failed_checks import outage_of, settle, unpassed
from fleet.services.kept import rebuild
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.readings import rule_on
from fleet.services.why import unit_of
from schedules.rules import Rule

__all__ = ["fail", "mark", "mark_all", "strike"]


def mark(
    record: Record,
    public_holidays: PublicHolidays,
    entry: Entry,
    *,
    anyway: bool,
    stamp: Stamp,
    beside: bool = False,
) -> tuple[StoredEntry, bool]:
    """Write one entry (an empty key gets the next free one) and say whether it is new.

    The same key and content again answers with the entry that stands. Raises NotFound, BadInput,
    Doubtful (unless `anyway`) and KeyTaken. beside: a second mark of one cell is no slip, as where
    two people saw to it and neither knew of the other. What follows (an action for a reading out of
    range, an outage or its end) is written with it: `entry_effects.effects` tells. The caller
    commits.
    """
    register = record.register()
    unit = unit_of(register, entry.property_number)
    entry = replace(entry, property_number=unit.property_number)
    standing = _standing(record, entry)
    if standing is not None:
        return standing, False
    rule = _rule(register, unit, entry)
    _check_form(entry)
    if not anyway:
        for doubt in doubts(
            record, register, public_holidays, unit, rule, entry, stamp, beside=beside
        ):
            raise Doubtful(doubt)
    return _append(record, public_holidays, entry, stamp), True


def mark_all(
    record: Record, public_holidays: PublicHolidays, entries: Sequence[Entry], stamp: Stamp
) -> int:
    """Write entries of one unit at once; how many were new.

    Their keys are given; one that stands already is passed over, whatever it holds. Nothing is
    doubted. What follows is written with them, as by `mark`. Raises NotFound and BadInput. The
    caller commits.
    """
    register = record.register()
    standing = record.stored([entry.key for entry in entries])
    fresh = [entry for entry in entries if entry.key not in standing]
    for entry in fresh:
        _rule(register, unit_of(register, entry.property_number), entry)
        _check_form(entry)
    if fresh:
        record.append(fresh, stamp)
        rebuild(record, [record.unit_ids()[fresh[0].property_number]], public_holidays)
    for entry in fresh:
        follow(record, public_holidays, entry, stamp)
    return len(fresh)


def fail(
    record: Record, public_holidays: PublicHolidays, entry: Entry, *, anyway: bool, stamp: Stamp
) -> Effects:
    """Put on the record that a check failed, of which no number was read; its note says how.

    No entry is written, since a mark says that it was done and it has to be done again: the action
    records it, and, where the rule stops use, the outage. Only unit, task, day, initials and note
    of `entry` are used. The same again, while the action is open, answers with what stands. Raises
    NotFound, BadInput and Doubtful (unless `anyway`). The caller commits.
    """
    register = record.register()
    unit = unit_of(register, entry.property_number)
    entry = replace(entry, property_number=unit.property_number)
    rule = _rule(register, unit, entry)
    _check_form(entry)
    if not entry.note.strip():
        mend = "say with --note what was found"
        raise _refused("mark", "note", "a failed check needs its finding", mend)
    if not anyway:
        for doubt in day_doubts(record, register, public_holidays, unit, rule, entry, stamp):
            raise Doubtful(doubt)
    by = f" (found by {entry.initials})" if entry.initials else ""
    title = f"{rule.title}: " if rule is not None else ""
    problem = f"{title}{entry.note.strip()}{by}"
    action = open_action(
        record, unit.property_number, problem, task=entry.task, on=entry.on, stamp=stamp
    )
    began, still = None, tuple[Action, ...]()
    if rule is not None and rule.stops_use:
        settle(record, public_holidays, "mark", {unit.property_number: action.opened_on}, stamp)
        began = outage_of(record.register(), unit, action)
        still = () if began else tuple(unpassed(record, unit))
    return Effects(action, began=began, still=still, cautions=rule.cautions if rule else ())


def strike(
    record: Record,
    public_holidays: PublicHolidays,
    key: str,
    why: str,
    replace_with: Mark | None,
    *,
    stamp: Stamp,
    new_key: str = "",
    initials: str = "",
    reading: str = "",
) -> StoredEntry:
    """Correct an entry: strike it, or replace its mark; the struck entry stays readable.

    initials: who corrects; those of the struck entry are never taken over, since that person did
    not sign the correction. The reading is kept where the mark stays the same and no other is
    given. The same `new_key` and content again answers with the correction that stands. Raises
    NotFound, KeyTaken, and BadInput where no reason is given, where it is struck already, or where
    it is itself a strike and nothing is to stand instead. The caller commits.
    """
    entry = _to_strike(record, key, why, replace_with, reading)
    correction = Entry(
        key=new_key,
        property_number=entry.property_number,
        task=entry.task,
        on=entry.on,
        to_on=entry.to_on,
        mark=replace_with,
        initials=initials,
        reading=reading or (entry.reading if replace_with is entry.mark else ""),
        strikes=key,
        why=why.strip(),
    )
    _check_form(correction)
    standing = _standing(record, correction)
    if standing is not None:
        return standing
    _refuse_struck(record, entry, replace_with)
    return _append(record, public_holidays, correction, stamp)


def _to_strike(
    record: Record, key: str, why: str, replace_with: Mark | None, reading: str
) -> Entry:
    """The entry of that key, where what is said of it is whole."""
    found = record.stored([key]).get(key)
    if found is None:
        raise NotFound("entry", key, "keys stand in the answer of mark and in gaps --format json")
    if not why.strip():
        raise _refused("strike", "why", "no reason is given", "say why with --why")
    if reading and replace_with is None:
        mend = "say with --replace-with what should stand instead"
        raise _refused("strike", "reading", "a reading belongs to a mark", mend)
    return found.entry


def _refuse_struck(record: Record, entry: Entry, replace_with: Mark | None) -> None:
    """Refuse to strike what is struck, or to strike a strike: what it struck would stay struck."""
    if entry.mark is None and replace_with is None:
        problem = f"it is a correction that strikes {entry.strikes} and marks nothing"
        mend = "if that was wrong, say with --replace-with what should stand"
        raise _refused(f"entry {entry.key}", None, problem, mend)
    unit_id = record.unit_ids()[entry.property_number]
    for other in record.entries([unit_id], entry.task):
        if other.entry.strikes == entry.key:
            problem = f"it was struck already, by {other.entry.key}"
            mend = f"correct {other.entry.key}, or write a new mark if it was done"
            raise _refused(f"entry {entry.key}", None, problem, mend)


def _refused(where: str, option: str | None, problem: str, mend: str) -> BadInput:
    return BadInput([Fault(where, None, option, problem, mend)])


def _append(
    record: Record, public_holidays: PublicHolidays, entry: Entry, stamp: Stamp
) -> StoredEntry:
    if not entry.key:
        entry = replace(entry, key=_free_key(record, entry))
    record.append([entry], stamp)
    rebuild(record, [record.unit_ids()[entry.property_number]], public_holidays)
    follow(record, public_holidays, entry, stamp)
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
        _check_same(standing.entry, blanked(entry) if standing.source == REMOVED else entry)
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
    return rule_on(tasks[entry.task], entry.on)


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
