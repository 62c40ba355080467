"""Which readings lie outside their limits, and what does one open (42 CFR 493.1282)?

The limits are those of the rule in force on the entry's own day, both ends inside; numbers are
compared as they were written, in decimals. What is opened once for an entry is not opened again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal

from fleet.domain.evidence import Action
from fleet.domain.records import Entry, Mark, Unit
from fleet.domain.register import Register
from fleet.services.ports import Record, Stamp
from fleet.services.standing import site_of, today_of
from schedules.rules import ReadingRange, Rule

__all__ = [
    "action_of",
    "corrected_keys",
    "is_pass",
    "limits_words",
    "problem_words",
    "reading_action",
    "rule_on",
    "trespass",
]


def rule_on(versions: Iterable[Rule], on: dt.date) -> Rule | None:
    """The version of a task that is in force on a day, the one that wins first."""
    return next((rule for rule in versions if rule.speaks_on(on)), None)


def trespass(entry: Entry, rule: Rule | None) -> ReadingRange | None:
    """The limits that an entry's reading lies outside of; None where it lies outside of none."""
    limits = rule.range if rule is not None else None
    if limits is None or entry.mark is None or not entry.reading:
        return None
    return None if limits.holds(Decimal(entry.reading)) else limits


def is_pass(entry: Entry, rule: Rule | None) -> bool:
    """Say whether an entry shows that a check was passed: done, and its reading within limits."""
    if rule is None or entry.mark is not Mark.DONE:
        return False
    return rule.range is None or (bool(entry.reading) and trespass(entry, rule) is None)


def limits_words(limits: ReadingRange) -> str:
    """The limits as people say them: '2.0 to 8.0 C', 'at least 2.0 C', 'at most 8.0 C'."""
    if limits.low is None:
        return f"at most {limits.high} {limits.unit}"
    if limits.high is None:
        return f"at least {limits.low} {limits.unit}"
    return f"{limits.low} to {limits.high} {limits.unit}"


def problem_words(entry: Entry, limits: ReadingRange) -> str:
    """What is wrong with a reading: 'read 8.1 C, allowed 2.0 to 8.0 C'."""
    return f"read {entry.reading} {limits.unit}, allowed {limits_words(limits)}"


def reading_action(
    register: Register, unit: Unit, rule: Rule, entry: Entry, limits: ReadingRange, stamp: Stamp
) -> Action:
    """The action that a reading out of range opens; its number is still empty."""
    opened_on = min(entry.on, today_of(register, unit, stamp.at))
    return Action(
        number="",
        site=site_of(register, unit, opened_on),
        property_number=unit.property_number,
        task=entry.task,
        entry=entry.key,
        opened_on=opened_on,
        problem=f"{rule.title}: {problem_words(entry, limits)}",
    )


def action_of(actions: Iterable[Action], keys: Sequence[str]) -> Action | None:
    """The action that stands for an entry: its own, or an open one of an entry it corrects.

    keys: the entry's key, then those of the entries it corrects (`corrected_keys`).
    """
    found = [action for action in actions if action.entry and action.entry in keys]
    own = next((action for action in found if action.entry == keys[0]), None)
    return own or next((action for action in found if action.closed_on is None), None)


def corrected_keys(record: Record, entry: Entry) -> list[str]:
    """The key of an entry, then of the one it strikes, of the one that one strikes, and so on."""
    keys, last = [entry.key], entry
    while last.strikes and last.strikes not in keys:
        keys.append(last.strikes)
        stored = record.stored([last.strikes]).get(last.strikes)
        last = last if stored is None else stored.entry
    return keys
