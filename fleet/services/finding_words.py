"""What settles a finding of the audit? One sentence each, with the command where there is one."""

from __future__ import annotations

import datetime as dt
import shlex

from fleet.domain.records import (
    REMOVED,
    Closure,
    Entry,
    Holiday,
    Mark,
    Outage,
    Pattern,
    Placement,
    RegisterRecord,
    StoredEntry,
)
from fleet.domain.register import Change
from schedules.audit import Reason

__all__ = ["backdated_words", "corrected_words", "doubt_words", "gap_words", "initials_words"]


def gap_words(
    property_number: str,
    task: str,
    period: tuple[dt.date, dt.date],
    closes_on: dt.date,
    marks: tuple[int, int],
) -> str:
    """How a gap is closed; marks: how many there are, and how many the rule asks for."""
    first_on, last_on = period
    when = f"{first_on}" if first_on == last_on else f"{first_on} to {last_on}"
    there, asked = marks
    what = f"only {there} of {asked} marks" if there else "no mark"
    unit, rule = shlex.quote(property_number), shlex.quote(task)
    command = f"dueward mark {unit} {rule} --on {closes_on} --as explained --note '...'"
    return f"Say why {when} has {what}: {command}"


def doubt_words(
    reason: Reason, stored: list[StoredEntry], known_on: dt.date, closed: str, days: int = 1
) -> str:
    """How a doubt is settled; known_on: when its first entry was recorded, at the site.

    closed: why the site was closed on the day, where that is the doubt; days: how many the entries
    of a batch speak of.
    """
    strike = strike_command(_narrowest(stored).entry.key)
    return {
        Reason.LATE: _late(stored[0].entry, known_on),
        Reason.BATCH: _batch(stored, known_on, days),
        Reason.BOTH: f"The day is marked done and unused; strike what is wrong: {strike}",
        Reason.CLOSED: f"The site was closed that day ({closed}); strike the mark, or load the day"
        f" as an extra opening: {strike}",
        Reason.OUT: "The unit was out of service that day; strike the entry, or load the outage"
        " with its right end (with a wrong first day: its row with 'yes' under withdrawn, and the"
        f" right row): {strike}",
        Reason.BEFORE: "The unit was not in service yet; strike the entry, or load the right day"
        f" of issue: {strike}",
        Reason.RETIRED: "The unit had been retired; strike the entry, or load the right day of"
        f" retirement: {strike}",
        Reason.FUTURE: f"{_ahead(stored[0].entry, known_on)}: {strike}",
    }[reason]


def _late(entry: Entry, known_on: dt.date) -> str:
    strike = strike_command(entry.key)
    if entry.mark is Mark.EXPLAINED:
        return (
            f"An explanation, recorded on {known_on}, fills the cell but is never done; read its"
            f" note and judge it, and strike it if it does not hold: {strike}"
        )
    return (
        f"It was recorded on {known_on}, after its period closed; ask whether it tells what was"
        f" done, and strike it if not: {strike}"
    )


def _batch(stored: list[StoredEntry], known_on: dt.date, days: int) -> str:
    if len(stored) == 1:
        return (
            f"1 entry for {days} days was recorded at one go on {known_on}; ask whether it tells"
            f" what was done, and strike it if not: {strike_command(stored[0].entry.key)}"
        )
    return (
        f"{len(stored)} entries were recorded at one go on {known_on}; ask whether each tells what"
        " was done, and strike those that do not: dueward strike KEY --why '...'"
    )


def _ahead(entry: Entry, known_on: dt.date) -> str:
    recorded = f"It was recorded on {known_on}"
    if entry.to_on is None or entry.to_on == entry.on:
        mend = "strike it, and mark the day anew if it was done"
        return f"{recorded}, before the day it speaks of; {mend}"
    mend = "strike it, and mark the days anew that were done"
    return f"{recorded} and runs on to {entry.to_on}, over days still to come; {mend}"


def _narrowest(stored: list[StoredEntry]) -> StoredEntry:
    """The entry of the fewest days, the last of several: to strike it takes away the least."""
    return min(
        reversed(stored), key=lambda line: (line.entry.to_on or line.entry.on) - line.entry.on
    )


def initials_words(stored: StoredEntry) -> str:
    """How a mark without initials gets them."""
    entry = stored.entry
    unit, rule = shlex.quote(entry.property_number), shlex.quote(entry.task)
    note = " --note '...'" if entry.mark is Mark.EXPLAINED else ""
    again = f"dueward mark {unit} {rule} --on {entry.on} --as {entry.mark}{note} --initials ..."
    return f"Ask who made it, strike it and mark it anew: {strike_command(entry.key)}, then {again}"


def corrected_words(correction: StoredEntry, known_on: dt.date) -> str:
    """What is left to do about a correction: to read its reason."""
    done = "Struck" if correction.entry.mark is None else f"Replaced by {correction.entry.mark}"
    why = f" ({correction.entry.why})" if correction.entry.why else " without a reason"
    if correction.source == REMOVED:
        return f"{done} on {known_on}; its reason was removed after its retention."
    return f"{done} on {known_on}{why}; review whether that is right."


_COLUMNS = {
    "in_service_on": "in_service_on",
    "retired_on": "retired_on",
    "record_from_on": "record_from",
    "to_on": "to",
    "site": "site",
    "open_days": "open_days",
}
"""The fields that may change what days are expected, and the columns they are loaded from."""


def backdated_words(change: Change, stored_on: dt.date, by: str) -> str:
    """What of the register came after its days, and what settles that."""
    if change.old is None:
        did, mend = "recorded", "withdraw it"
    elif change.new is None:
        did, mend = "withdrawn", "load it again"
    else:
        did, mend = f"changed ({_changed(change.old, change.new)})", "load it as it was"
    what = _named(change.record)
    return f"The {what} was {did} on {stored_on} by {by}; note why it came late, or {mend}."


def _changed(old: RegisterRecord, new: RegisterRecord) -> str:
    values = ((c, getattr(old, f, None), getattr(new, f, None)) for f, c in _COLUMNS.items())
    return "; ".join(
        f"{column}: {before or 'none'} before, {now or 'none'} now"
        for column, before, now in values
        if before != now
    )


def _named(record: RegisterRecord) -> str:
    match record:
        case Outage():
            return f"outage from {record.from_on}"
        case Placement():
            return f"move of {record.from_on}"
        case Pattern():
            return f"weekly pattern from {record.from_on}"
        case Holiday():
            place = "-".join(filter(None, (record.country, record.subdivision)))
            return f"holiday {'' if record.site else f'of {place} '}on {record.on}"
        case Closure():
            what = "extra opening" if record.open else "closure"
            return f"{what} {'' if record.site else 'of all sites '}from {record.from_on}"
    return "unit"


def strike_command(key: str) -> str:
    """The command that strikes an entry."""
    return f"dueward strike {shlex.quote(key)} --why '...'"
