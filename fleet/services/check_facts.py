"""What does the record show of the function checks of a unit: failures, passes, outages?"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from itertools import groupby

from fleet.domain.evidence import Action
from fleet.domain.records import Entry, Outage, StoredEntry, Unit
from fleet.services.check_outages import Failure, Pass, Span, outage_spans
from fleet.services.columns import book_of
from fleet.services.outages import cell_marks, day_out
from fleet.services.ports import Record
from fleet.services.readings import action_of, is_pass, rule_on, trespass
from schedules.rules import Rule, RuleBook

__all__ = ["REASON", "CheckReader", "UnitChecks", "may_stop", "told_action", "versions_of"]

REASON = re.compile(
    r"(?P<task>[a-z0-9-]+) failed: .*\((?P<sort>entry|action) (?P<name>.+)\)", re.DOTALL
)
_UNITS_AT_ONCE = 250


def told_action(actions: Sequence[Action], outage: Outage) -> Action | None:
    """The action of the failed check that an outage names; None for one of another cause."""
    told = REASON.fullmatch(outage.reason)
    for action in actions if told else ():
        name = action.entry if told and told["sort"] == "entry" else action.number
        if told and (told["task"], told["name"]) == (action.task, name):
            return action
    return None


def versions_of(book: RuleBook, unit: Unit) -> Mapping[str, tuple[Rule, ...]]:
    """The rules of a unit's tasks, each in its versions."""
    kind = book.kinds.get(unit.kind)
    return kind.tasks(unit.model) if kind else {}


def may_stop(versions: Mapping[str, tuple[Rule, ...]], action: Action) -> bool:
    """Say whether an action tells of a failed check that stops the use of its unit.

    One without an entry does where it begins with the title of the rule, as `mark --failed` writes.
    """
    rule = rule_on(versions.get(action.task, ()), action.opened_on)
    if rule is None or not rule.stops_use:
        return False
    return bool(action.entry) or action.problem.startswith(f"{rule.title}: ")


@dataclass(frozen=True, slots=True)
class UnitChecks:
    """What the record shows of the checks of one unit."""

    failures: list[Failure]
    passes: list[Pass]
    told: dict[dt.date, str]
    """The first day of each outage that a failed check began: the number of its action."""
    managed: list[Outage]
    fixed: list[Outage]

    def spans(self) -> list[Span]:
        """The outages that should stand."""
        begun = {outage.from_on for outage in self.managed}
        return outage_spans(self.failures, self.passes, self.fixed, begun)


class CheckReader:
    """Reads the checks of units from one state of the register."""

    def __init__(self, record: Record, fresh: str = "") -> None:
        self._record, self._fresh = record, fresh
        self.register = record.register()
        self._withdrawn: AbstractSet[tuple[str, ...]] | None = None
        self._book = book_of(self.register)
        self._actions: dict[str, list[Action]] = {}
        for action in self.register.actions.values():
            self._actions.setdefault(action.property_number, []).append(action)
        self._outages: dict[str, list[Outage]] = {}
        for outage in self.register.outages.values():
            self._outages.setdefault(outage.property_number, []).append(outage)

    def actions(self, unit: Unit) -> list[Action]:
        """The actions about a unit."""
        return self._actions.get(unit.property_number, [])

    def each(self, numbers: Collection[str]) -> Iterator[tuple[Unit, UnitChecks]]:
        """The units of these numbers with their checks."""
        ids = self._record.unit_ids()
        unit_of = {ids[number]: self.register.units[(number,)] for number in numbers}
        wanted = sorted(unit_of)
        for at in range(0, len(wanted), _UNITS_AT_ONCE):
            part = wanted[at : at + _UNITS_AT_ONCE]
            rows = self._record.entries(part)
            seen = set[int]()
            for unit_id, group in groupby(rows, lambda one: ids[one.entry.property_number]):
                seen.add(unit_id)
                yield unit_of[unit_id], self._checks(unit_of[unit_id], list(group))
            for unit_id in sorted(set(part) - seen):
                yield unit_of[unit_id], self._checks(unit_of[unit_id], [])

    def _checks(self, unit: Unit, stored: Sequence[StoredEntry]) -> UnitChecks:
        versions = versions_of(self._book, unit)
        stopping = {task for task, rules in versions.items() if any(r.stops_use for r in rules)}
        stopping |= self._told_tasks(unit) & versions.keys()
        of_tasks = [one for one in stored if one.entry.task in stopping]
        struck = {one.entry.strikes for one in of_tasks if one.entry.strikes}
        all_passes, places = list[Pass](), _places([one.entry for one in of_tasks])
        passes = list[Pass]()
        for entry in (one.entry for one in of_tasks):
            if is_pass(entry, rule_on(versions[entry.task], entry.on)):
                last = entry.to_on or entry.on
                all_passes.append(Pass(entry.task, entry.on, last, places[entry.key]))
                if entry.key not in struck:
                    passes.append(all_passes[-1])
        managed, fixed, told = self._parted(unit, all_passes, stopping)
        starts = {number: first for first, number in told.items()}
        marks = cell_marks(versions, [one.entry for one in stored])
        failures = []
        for action, on, place in self._failed(unit, of_tasks, struck, places, set(starts)):
            first = starts.get(action.number) or day_out(marks, on)
            if not action.entry and action.number not in starts and self._is_gone(unit, first):
                continue
            if unit.retired_on is None or first < unit.retired_on:
                failures.append(Failure(action.task, on, first, place, action.number))
        return UnitChecks(failures, passes, told, managed, fixed)

    def _told_tasks(self, unit: Unit) -> set[str]:
        outages = self._outages.get(unit.property_number, [])
        told = [told_action(self.actions(unit), outage) for outage in outages]
        return {action.task for action in told if action is not None}

    def _is_gone(self, unit: Unit, first: dt.date) -> bool:
        """Say whether the outage of that day was withdrawn: what no entry tells ends so."""
        if self._withdrawn is None:
            self._withdrawn = self._record.withdrawn(Outage)
        return (unit.property_number, first.isoformat()) in self._withdrawn

    def _parted(
        self, unit: Unit, passes: Sequence[Pass], tasks: Collection[str]
    ) -> tuple[list[Outage], list[Outage], dict[dt.date, str]]:
        """The outages that follow from checks, those that people set or ended, and what is told.

        One that ends neither with a pass nor with the next outage was ended by a person.
        """
        outages = self._outages.get(unit.property_number, [])
        ends: set[dt.date | None] = {None, *(one.from_on for one in outages)}
        managed, fixed, told = list[Outage](), list[Outage](), dict[dt.date, str]()
        for outage in outages:
            action = told_action(self.actions(unit), outage)
            is_ours = outage.to_on in ends or any(
                outage.to_on is not None and one.on <= outage.to_on <= one.last for one in passes
            )
            if action is not None and action.task in tasks and is_ours:
                managed.append(outage)
                told[outage.from_on] = action.number
            else:
                fixed.append(outage)
        return managed, fixed, told

    def _failed(
        self,
        unit: Unit,
        stored: Sequence[StoredEntry],
        struck: Collection[str],
        places: Mapping[str, int],
        told: Collection[str],
    ) -> Iterator[tuple[Action, dt.date, int]]:
        """The failures that stand: the action that tells of each, its day and its place."""
        versions = versions_of(self._book, unit)
        actions, by_key = self.actions(unit), {one.entry.key: one.entry for one in stored}
        of_entries = [one for one in actions if one.entry]
        for entry in by_key.values():
            if entry.key in struck or entry.mark is None:
                continue
            action = action_of(of_entries, _chain(entry, by_key))
            rule = rule_on(versions[entry.task], entry.on)
            stops = rule is not None and rule.stops_use and trespass(entry, rule) is not None
            is_told = action is not None and action.entry == entry.key and action.number in told
            if action is not None and (stops or is_told):
                yield action, min(entry.on, action.opened_on), places[entry.key]
        for action in actions:
            if action.entry or not (action.number in told or may_stop(versions, action)):
                continue
            yield action, action.opened_on, self._place(action, stored)

    def _place(self, action: Action, stored: Sequence[StoredEntry]) -> int:
        """The place of a failure without an entry: before the first entry written after it."""
        of_task = [one for one in stored if one.entry.task == action.task]
        if all(one.entry.on != action.opened_on for one in of_task):
            return 0
        opened_at = next(
            line.stored_at
            for line in self._record.change_lines()
            if isinstance(line.change.new, Action) and line.change.new.number == action.number
        )
        before = [
            one for one in of_task if one.stored_at <= opened_at and one.entry.key != self._fresh
        ]
        return 2 * len(before)


def _places(entries: Sequence[Entry]) -> dict[str, int]:
    """The place of each entry in its task, odd numbers; a correction has that of the first."""
    places, counts = dict[str, int](), dict[str, int]()
    for entry in entries:
        count = counts[entry.task] = counts.get(entry.task, -1) + 1
        places[entry.key] = places.get(entry.strikes, 2 * count + 1)
    return places


def _chain(entry: Entry, by_key: Mapping[str, Entry]) -> list[str]:
    """The key of an entry, then of the one it strikes, and so on."""
    keys, last = [entry.key], entry
    while last.strikes in by_key and last.strikes not in keys:
        keys.append(last.strikes)
        last = by_key[last.strikes]
    return keys
