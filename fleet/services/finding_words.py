"""What settles a finding of the audit? One sentence each, with the command where there is one."""

from __future__ import annotations

import datetime as dt
import shlex

from fleet.domain.records import StoredEntry
from schedules.audit import Reason

__all__ = ["corrected_words", "doubt_words", "gap_words", "initials_words"]


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


def doubt_words(reason: Reason, stored: list[StoredEntry], known_on: dt.date, closed: str) -> str:
    """How a doubt is settled; known_on: when its first entry was recorded, at the site.

    closed: why the site was closed on the day, where that is the doubt.
    """
    strike = strike_command(_narrowest(stored).entry.key)
    strike_one = "dueward strike KEY --why '...'"
    return {
        Reason.LATE: f"It was recorded on {known_on}, after its period closed; ask whether it tells"
        f" what was done, and strike it if not: {strike}",
        Reason.BATCH: f"{len(stored)} entries were recorded at one go on {known_on}; ask whether"
        f" each tells what was done, and strike those that do not: {strike_one}",
        Reason.BOTH: f"The day is marked done and unused; strike what is wrong: {strike}",
        Reason.CLOSED: f"The site was closed that day ({closed}); strike the mark, or load the day"
        f" as an extra opening: {strike}",
        Reason.OUT: "The unit was out of service that day; strike the entry, or load the right"
        f" days of the outage: {strike}",
        Reason.BEFORE: "The unit was not in service yet; strike the entry, or load the right day"
        f" of issue: {strike}",
        Reason.RETIRED: "The unit had been retired; strike the entry, or load the right day of"
        f" retirement: {strike}",
        Reason.FUTURE: f"It was recorded on {known_on}, before the day it speaks of; strike it,"
        f" and mark the day anew if it was done: {strike}",
    }[reason]


def _narrowest(stored: list[StoredEntry]) -> StoredEntry:
    """The entry of the fewest days, the last of several: to strike it takes away the least."""
    return min(
        reversed(stored), key=lambda line: (line.entry.to_on or line.entry.on) - line.entry.on
    )


def initials_words(stored: StoredEntry) -> str:
    """How a mark without initials gets them."""
    entry = stored.entry
    unit, rule = shlex.quote(entry.property_number), shlex.quote(entry.task)
    again = f"dueward mark {unit} {rule} --on {entry.on} --as {entry.mark} --initials ..."
    return f"Ask who made it, strike it and mark it anew: {strike_command(entry.key)}, then {again}"


def corrected_words(correction: StoredEntry, known_on: dt.date) -> str:
    """What is left to do about a correction: to read its reason."""
    done = "Struck" if correction.entry.mark is None else f"Replaced by {correction.entry.mark}"
    why = f" ({correction.entry.why})" if correction.entry.why else " without a reason"
    return f"{done} on {known_on}{why}; review whether that is right."


def strike_command(key: str) -> str:
    """The command that strikes an entry."""
    return f"dueward strike {shlex.quote(key)} --why '...'"
