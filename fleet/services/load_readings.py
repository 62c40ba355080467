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
from fleet.services.failed_checks import settle, stopped_numbers
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
        self._checks: dict[str, dt.date] = {}
        self._moved: set[str] = set()
        self._struck: set[str] = set()

    def take(self, fresh: Iterable[Entry]) -> None:
        """Note the readings out of range, and which checks that stop use were marked or struck."""
        for entry in fresh:
            versions = self._versions(entry)
            rule = rule_on(versions, entry.on)
            if rule is not None and trespass(entry, rule) is not None:
                self._outside.append((entry, rule))
                if rule.stops_use:
                    self._moved.add(entry.property_number)
            if any(version.stops_use for version in versions):
                number = entry.property_number
                self._checks[number] = min(entry.on, self._checks.get(number, entry.on))
                if entry.strikes:
                    self._struck.add(entry.strikes)
                    self._moved.add(number)

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
        told = self._settle_checks(record, public_holidays, stamp) if self._checks else []
        if not opened:
            return told
        names = ", ".join(action.number for action in opened[:_NAMED])
        more = f" and {len(opened) - _NAMED:,} more" if len(opened) > _NAMED else ""
        what = "readings lie" if len(opened) > 1 else "reading lies"
        each = "each opens" if len(opened) > 1 else "it opens"
        what = f"{len(opened):,} {what} out of range; {each} a corrective action"
        return [*told, f"{what} ({names}{more}): see dueward actions"]

    def _settle_checks(
        self, record: Record, public_holidays: PublicHolidays, stamp: Stamp
    ) -> list[str]:
        """Bring the outages of the units up to the checks that failed or passed, in one change."""
        moved = self._moved | stopped_numbers(record.register(), self._checks)
        since = {number: on for number, on in self._checks.items() if number in moved}
        for stored in record.stored(sorted(self._struck)).values():
            number, on = stored.entry.property_number, stored.entry.on
            if number in since:
                since[number] = min(on, since[number])
        gone = settle(record, public_holidays, "mark", since, stamp)
        return [
            f"the outage of {one.property_number} from {one.from_on} is withdrawn: no failed check"
            " stands behind it any more"
            for one in gone
        ]

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
