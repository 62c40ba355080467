"""What is the state of every unit × rule on one day, anchored, fixed and cell rules in one table?

First `prepare` gathers the rows and says how far dates reach without a calendar; then, with
calendars that reach so far, `status` answers.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from schedules.calendars import CalendarIndex
from schedules.cells import cell_states, in_force
from schedules.dates import FAR, NEVER, Counts, Days, date_of
from schedules.due import DueColumns, DueRows, due, nominals
from schedules.errors import ScheduleError
from schedules.intervals import fold
from schedules.marks import MarkedYears
from schedules.rules import Basis, DueAfter, First, Rule
from schedules.units import Places, UnitColumns

__all__ = ["Duties", "Prepared", "StatusColumns", "prepare", "status"]

Versions = tuple[Rule, ...]
_YEAR_BEFORE, _TWO_YEARS_AFTER = 366, 731


@dataclass(frozen=True, slots=True)
class Duties:
    """The rows of a fleet, a unit × task each, those of one task's versions side by side.

    versions: what a unit's task is ruled by, in the order of `Kind.tasks`; starts: rows of
    versions v are starts[v] to starts[v + 1] - 1; unit: places in the UnitColumns.
    """

    versions: Sequence[Versions]
    starts: Sequence[int]
    unit: Places

    def __len__(self) -> int:
        return len(self.unit)

    def rows(self, place: int) -> slice:
        """The rows that one entry of `versions` rules."""
        return slice(self.starts[place], self.starts[place + 1])


@dataclass(frozen=True, slots=True)
class Prepared:
    """Rows ready to be answered on a day: which rule speaks for each, and the dated ones' columns.

    speaking: for each of the duties' versions the one in force, or None (no row is shown).
    due_rules and due_places: the anchored and fixed rules and the versions they stand for, anchored
    first; due_order: the duty of each of `due_rows`. reached: the nominal dates there are.
    """

    duties: Duties
    units: UnitColumns
    marks: MarkedYears
    on: int
    last_done: Days
    speaking: Sequence[Rule | None]
    due_rules: Sequence[Rule]
    due_order: Places
    due_rows: DueRows
    reached: Days

    def span(self) -> tuple[dt.date, dt.date]:
        """The days a calendar must be true for (design 4.2)."""
        earliest = min(
            self.on,
            int(self.units.in_service.min(initial=self.on)),
            int(self.reached.min(initial=self.on)),
        )
        latest = int(self.reached.max(initial=self.on))
        return date_of(earliest - _YEAR_BEFORE), date_of(latest + _TWO_YEARS_AFTER)


@dataclass(frozen=True, slots=True)
class StatusColumns:
    """One place a duty: int32 days (FAR or NEVER where empty) and counts (-1 where empty).

    state: codes of `schedules.units`, -1 where no version is in force; failures: by duty.
    """

    state: npt.NDArray[np.int8]
    last_done: Days
    nominal: Days
    opens: Days
    due: Days
    limit: Days
    days_past_due: Counts
    open_days_past_due: Counts
    missed: Counts
    failures: dict[int, ScheduleError]

    @classmethod
    def empty(cls, last_done: Days) -> StatusColumns:
        """No answers yet, for as many duties as there are last done dates."""
        nominal, opens, due_days, limit = np.full((4, len(last_done)), FAR, dtype=np.int32)
        late, open_late, missed = np.full((3, len(last_done)), -1, dtype=np.int32)
        state = np.full(len(last_done), -1, dtype=np.int8)
        return cls(state, last_done, nominal, opens, due_days, limit, late, open_late, missed, {})


def prepare(duties: Duties, units: UnitColumns, marks: MarkedYears, on: int) -> Prepared:
    """Gather what the record says up to a day; marks are numbered by duty."""
    speaking = [in_force(versions, on) for versions in duties.versions]
    last_done = marks.last_done(len(duties), on)
    dated = [place for place, rule in enumerate(speaking) if rule and rule.each is None]
    dated.sort(key=lambda place: speaking[place].basis is Basis.FIXED)  # type: ignore[union-attr]
    rules = [rule for place in dated if (rule := speaking[place]) is not None]
    order = [np.arange(duties.starts[place], duties.starts[place + 1]) for place in dated]
    due_order = np.concatenate([np.zeros(0, dtype=np.int64), *order])
    rule_of_row = np.repeat(np.arange(len(rules), dtype=np.int32), [len(part) for part in order])
    rows = _due_rows(rules, rule_of_row, duties.unit[due_order], last_done[due_order], units, on)
    _keep_anchors(rules, rows, due_order, units, marks, on)
    dates = nominals(rules, rows, units)
    return Prepared(
        duties, units, marks, on, last_done, speaking, rules, due_order, rows, dates[dates != FAR]
    )


def _due_rows(
    rules: Sequence[Rule],
    rule: npt.NDArray[np.int32],
    unit: Places,
    last_done: Days,
    units: UnitColumns,
    on: int,
) -> DueRows:
    """Steps 1 and 2 of design 4.3 for rules that do not keep their anchor: the last date done."""
    in_service, record_from = units.in_service.take(unit), units.record_from.take(unit)
    at_start = np.array([r.first is First.AT_START for r in rules], dtype=np.bool_)[rule]
    was_done, in_time = last_done != NEVER, last_done >= in_service
    base = np.where(in_time | (was_done & ~at_start), last_done, in_service)
    steps = np.where(at_start & ~in_time, 0, 1)
    unrecorded = ~was_done & (record_from > in_service)
    return DueRows(
        rule=rule,
        unit=unit,
        base=np.where(unrecorded, record_from, base).astype(np.int32),
        steps=np.where(unrecorded, 0, steps).astype(np.int32),
        last=np.where(in_time, last_done, np.int32(NEVER)),
        event=_events(rules, rule, unit, units, on),
    )


def _events(
    rules: Sequence[Rule],
    rule: npt.NDArray[np.int32],
    unit: Places,
    units: UnitColumns,
    on: int,
) -> Days:
    """The latest event each row's rule names, from the unit's service to the day (step 3)."""
    event = np.full(len(unit), NEVER, dtype=np.int32)
    for name, runs in ((DueAfter.MOVED, units.moves), (DueAfter.REPAIRED, units.returns)):
        named = np.array([name in r.due_after for r in rules], dtype=np.bool_)[rule]
        if named.any():
            latest = runs.latest(on)
            latest = np.where(latest >= units.in_service, latest, np.int32(NEVER))
            event = np.where(named, np.maximum(event, latest.take(unit)), event)
    return event


def _keep_anchors(
    rules: Sequence[Rule],
    rows: DueRows,
    due_order: Places,
    units: UnitColumns,
    marks: MarkedYears,
    on: int,
) -> None:
    """Walk the done dates of the rows whose rule keeps its anchor; writes base and steps."""
    edges = np.searchsorted(rows.rule, np.arange(len(rules) + 1)).tolist()
    for rule, first, after in zip(rules, edges[:-1], edges[1:], strict=True):
        if rule.keep_anchor == 0 or first == after:
            continue
        row, done = marks.done_days(int(due_order[first]), after - first)
        starts = np.searchsorted(row, np.arange(after - first + 1)).tolist()
        days, some = done.tolist(), slice(first, after)
        in_service = units.in_service.take(rows.unit[some]).tolist()
        record_from = units.record_from.take(rows.unit[some]).tolist()
        for turn in np.flatnonzero(rows.last[some] != NEVER).tolist():
            own = days[starts[turn] : starts[turn + 1]]
            folded = fold(rule, in_service[turn], record_from[turn], own, on)
            rows.base[first + turn], rows.steps[first + turn] = folded.base, folded.steps


def status(prepared: Prepared, index: CalendarIndex) -> StatusColumns:
    """Answer every duty; `index` holds the calendars in the numbers the units use."""
    duties = prepared.duties
    answers = StatusColumns.empty(prepared.last_done)
    if len(prepared.due_rows):
        found = due(prepared.due_rules, prepared.due_rows, prepared.units, index, prepared.on)
        _place_dated(prepared, found, answers)
    for place, rule in enumerate(prepared.speaking):
        if rule is not None and rule.basis is Basis.CELL:
            _place_cells(prepared, index, place, duties.rows(place), answers)
    return answers


def _place_dated(prepared: Prepared, found: DueColumns, answers: StatusColumns) -> None:
    order = prepared.due_order
    answers.state[order] = found.state
    for name in ("nominal", "opens", "due", "limit"):
        getattr(answers, name)[order] = getattr(found, name)
    dated = found.due != FAR
    answers.days_past_due[order] = np.where(dated, found.days_past_due, -1)
    answers.open_days_past_due[order] = np.where(dated, found.open_days_past_due, -1)
    is_fixed = np.array([rule.basis is Basis.FIXED for rule in prepared.due_rules])
    counted = is_fixed[prepared.due_rows.rule]
    counted &= prepared.units.standing(prepared.on).take(prepared.due_rows.unit) == 0
    answers.missed[order] = np.where(counted, found.missed, -1)
    answers.failures.update({int(order[row]): error for row, error in found.failures.items()})


def _place_cells(
    prepared: Prepared, index: CalendarIndex, place: int, rows: slice, answers: StatusColumns
) -> None:
    versions, units = prepared.duties.versions[place], prepared.units
    unit_of_row = prepared.duties.unit[rows]
    found = cell_states(
        versions, units, unit_of_row, index, prepared.marks, rows.start, prepared.on
    )
    answers.state[rows] = found.state
    answers.opens[rows], answers.limit[rows] = found.opens, found.limit
    at_work = units.standing(prepared.on).take(unit_of_row) == 0
    answers.missed[rows] = np.where(at_work, found.missed, -1)
