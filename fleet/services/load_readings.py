"""What follows from the readings of the files: actions, and outages of failed checks?

It is written after the last entry and in the same unit of work, so that a pass further on in the
files is seen. A reading that stood already, or whose action the files bring, opens nothing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import replace

from fleet.domain.evidence import Action
from fleet.domain.records import Entry, Unit
from fleet.domain.register import Change
from fleet.services.actions import free_number
from fleet.services.entry_effects import follow
from fleet.services.failed_checks import end_where_passed, failed_check, reopen
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.readings import action_of, corrected_keys, reading_action, rule_on, trespass
from schedules.rules import Rule, RuleBook

__all__ = ["ReadingWatch"]

_NAMED = 3


class ReadingWatch:
    """Takes new entries as they are appended, and settles in the end what follows from them."""

    def __init__(self, units: Mapping[tuple[str, ...], Unit], book: RuleBook | None) -> None:
        self._units, self._book = units, book
        self._watched: dict[tuple[str, str], dict[str, tuple[Rule, ...]]] = {}
        self._outside: list[tuple[Entry, Rule]] = []
        self._checks: set[tuple[str, str]] = set()
        self._strikes: list[Entry] = []

    def take(self, fresh: Iterable[Entry]) -> None:
        """Note the readings out of range, and which checks that stop use were marked or struck."""
        for entry in fresh:
            versions = self._versions(entry)
            rule = rule_on(versions, entry.on)
            if rule is not None and trespass(entry, rule) is not None:
                self._outside.append((entry, rule))
            if any(version.stops_use for version in versions):
                self._checks.add((entry.property_number, entry.task))
                if entry.strikes:
                    self._strikes.append(entry)

    def _versions(self, entry: Entry) -> tuple[Rule, ...]:
        """The rules of an entry's task, where one has limits or stops use."""
        unit = self._units[(entry.property_number,)]
        sort = unit.kind, unit.model
        if sort not in self._watched:
            kind = None if self._book is None else self._book.kinds.get(unit.kind)
            tasks = {} if kind is None else kind.tasks(unit.model)
            self._watched[sort] = {
                task: versions
                for task, versions in tasks.items()
                if any(rule.range is not None or rule.stops_use for rule in versions)
            }
        return self._watched[sort].get(entry.task, ())

    def settle(self, record: Record, public_holidays: PublicHolidays, stamp: Stamp) -> list[str]:
        """Open the actions, then begin and end outages in the order of days; remarks on both."""
        opened = self._open(record, stamp)
        if self._checks:
            self._settle_checks(record, public_holidays, stamp)
        if not opened:
            return []
        names = ", ".join(action.number for action in opened[:_NAMED])
        more = f" and {len(opened) - _NAMED:,} more" if len(opened) > _NAMED else ""
        what = "readings lie" if len(opened) > 1 else "reading lies"
        each = "each opens" if len(opened) > 1 else "it opens"
        told = f"{len(opened):,} {what} out of range; {each} a corrective action"
        return [f"{told} ({names}{more}): see dueward actions"]

    def _settle_checks(self, record: Record, public_holidays: PublicHolidays, stamp: Stamp) -> None:
        """Bring back what passed since, take out what failed, undo passes that were struck."""
        register = record.register()
        for number, task in sorted(self._checks):
            unit = register.units[(number,)]
            if failed := failed_check(register, unit, task, dt.date.max):
                end_where_passed(record, public_holidays, unit, failed, stamp)
        struck = {entry.strikes for entry in self._strikes}
        for entry, rule in sorted(self._outside, key=lambda one: one[0].on):
            if rule.stops_use and entry.key not in struck:
                follow(record, public_holidays, entry, stamp)
        for key in sorted(struck):
            entry = record.stored([key])[key].entry
            unit = register.units[(entry.property_number,)]
            reopen(record, public_holidays, unit, entry, stamp)

    def _open(self, record: Record, stamp: Stamp) -> list[Action]:
        """Write an action for each reading out of range that has none."""
        if not self._outside:
            return []
        register = record.register()
        actions, opened = dict(register.actions), list[Action]()
        of_entry = {action.entry: action for action in actions.values() if action.entry}
        for entry, rule in self._outside:
            keys = corrected_keys(record, entry) if entry.strikes else [entry.key]
            known = [of_entry[key] for key in keys if key in of_entry]
            limits = trespass(entry, rule)
            if limits is None or action_of(known, keys):
                continue
            unit = register.units[(entry.property_number,)]
            action = reading_action(register, unit, rule, entry, limits, stamp)
            action = replace(action, number=free_number(actions, action))
            actions[action.key] = of_entry[entry.key] = action
            opened.append(action)
        record.change([Change(old=None, new=one, initial=False) for one in opened], stamp)
        return opened
