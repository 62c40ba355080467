"""Where do so many intervals after an anchor lead (design 4.1, 4.3, 4.4)?

`Terms` holds the numbers of many rules, a place a rule or a row, or one number for all rows, so
that the same lines serve a run of one rule and rows of many. Occurrences are always counted from
the anchor, never from the one before.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from schedules.dates import NEVER, Counts, Days, day_of, month_table
from schedules.rules import Basis, First, Roll, Rule

__all__ = ["Folded", "Number", "Terms", "first_reaching", "fold", "reach", "step"]

Number = npt.NDArray[np.int32] | np.int32


@dataclass(frozen=True, slots=True)
class Terms:
    """The numbers of rules: a place a rule or a row, or one number for all rows."""

    months: Number
    days: Number
    early: Number
    grace: Number
    roll: Number
    anchor: Number

    @classmethod
    def of(cls, rules: Sequence[Rule], rolls: Sequence[Roll] = ()) -> Terms:
        """The numbers of some rules; their rolls as places in `rolls`."""
        place_of = {roll: place for place, roll in enumerate(rolls)}
        numbers = [
            (
                rule.every.count if rule.every and rule.every.in_months else 0,
                rule.every.count if rule.every and not rule.every.in_months else 0,
                rule.early,
                rule.grace,
                place_of.get(rule.roll, 0),
                day_of(rule.anchor_on) if rule.anchor_on else 0,
            )
            for rule in rules
        ]
        return cls(*np.array(numbers, dtype=np.int32).reshape(-1, 6).T.copy())

    def columns(self) -> tuple[Number, ...]:
        """All of them, in the order of the fields."""
        return (self.months, self.days, self.early, self.grace, self.roll, self.anchor)

    def at(self, rule: int) -> Terms:
        """The numbers of one rule."""
        return Terms(*(np.asarray(column)[rule] for column in self.columns()))

    def spread(self, rule: npt.NDArray[np.int32]) -> Terms:
        """The numbers of each row's rule; rule: places, ascending."""
        first, last = int(rule[0]), int(rule[-1])
        edges = np.searchsorted(rule, np.arange(first, last + 2, dtype=np.int32))
        rows = np.diff(edges)
        some = slice(first, last + 1)
        return Terms(*(np.asarray(column)[some].repeat(rows) for column in self.columns()))

    def row(self, row: int, rows: int) -> Terms:
        """The numbers of one of so many rows, as columns of length one."""
        return Terms(*(np.broadcast_to(c, rows)[row : row + 1] for c in self.columns()))

    @property
    def is_of_one_rule(self) -> bool:
        """Whether they are one number each."""
        return np.ndim(self.months) == 0


def _looked_up(
    answer: Callable[[npt.NDArray[np.int32]], npt.NDArray[np.int32]], numbers: npt.NDArray[np.int32]
) -> npt.NDArray[np.int32]:
    """Answer each number, by way of a table where there are more numbers than possible ones."""
    low, high = (int(numbers.min()), int(numbers.max())) if numbers.size else (0, 0)
    if high - low >= len(numbers):
        return answer(numbers)
    table = answer(np.arange(low, high + 1, dtype=np.int32))
    return table.take(np.subtract(numbers, np.int32(low), dtype=np.int64))


def step(terms: Terms, base: Number, steps: Number) -> Days:
    """Base + steps × every for each row, counted from the base (design 4.1).

    terms: of one rule, or a place a row; base and steps: a place a row, one of them may be one
    number for all.
    """
    if not np.any(terms.months):
        return np.asarray(base + steps * terms.days, dtype=np.int32)
    if terms.is_of_one_rule:
        if np.ndim(base) == 0:
            return _looked_up(lambda some: _step(terms, base, some), np.asarray(steps))
        if np.size(steps) and np.min(steps) == np.max(steps):
            one = np.int32(np.min(steps))
            return _looked_up(lambda some: _step(terms, some, one), np.asarray(base))
    return _step(terms, base, steps)


def _step(terms: Terms, base: Number, steps: Number) -> Days:
    table = month_table()
    place = np.subtract(base, np.int32(table.first_day), dtype=np.int64)
    month = np.add(table.month.take(place), steps * terms.months, dtype=np.int64)
    within = np.minimum(table.day_of_month.take(place), table.last_place.take(month))
    moved = np.add(table.first_of.take(month), within, dtype=np.int32)
    if np.any(terms.days):
        moved += steps * terms.days
    return moved


def first_reaching(terms: Terms, since: Days) -> Counts:
    """The smallest k >= 0 with anchor + k × every >= since, for each row of fixed rules."""
    if terms.is_of_one_rule:
        return _looked_up(lambda some: _first_reaching(terms, some), since)
    return _first_reaching(terms, since)


def _first_reaching(terms: Terms, since: Days) -> Counts:
    table = month_table()
    first_day = np.int32(table.first_day)
    apart = table.month.take(since - first_day).astype(np.int32)
    apart -= table.month.take(terms.anchor - first_day)
    by_months = apart // np.maximum(terms.months, np.int32(1))
    by_days = (since - terms.anchor) // np.maximum(terms.days, np.int32(1))
    turns = np.maximum(np.where(np.asarray(terms.months) > 0, by_months, by_days), np.int32(0))
    return np.add(turns, step(terms, terms.anchor, turns) < since, dtype=np.int32)


@dataclass(frozen=True, slots=True)
class Folded:
    """What steps 1 and 2 of design 4.3 leave of a unit's done dates.

    nominal = base + steps × every; kept counts how often the anchor was kept (the k of the
    design); last is the latest done date from the start of service on, NEVER where none.
    """

    base: int
    kept: int
    steps: int
    last: int


def fold(rule: Rule, in_service: int, record_from: int, done: Sequence[int], on: int) -> Folded:
    """Walk the done dates of one unit × rule up to `on` (design 4.3 steps 1 and 2).

    done: ascending day numbers, one a day. For a fixed rule only `last` is of use.
    """
    first = bisect_left(done, min(in_service, on + 1))
    before, since = done[:first], done[first : bisect_right(done, on)]
    last = since[-1] if since else NEVER
    if rule.basis is not Basis.ANCHORED:
        return Folded(in_service, 0, 0, last)
    at_start = rule.first is First.AT_START
    base = before[-1] if before and not at_start else in_service
    if not since:
        if not before and record_from > in_service:
            return Folded(record_from, 0, 0, last)
        return Folded(base, 0, 0 if at_start else 1, last)
    if rule.keep_anchor == 0:
        return Folded(last, 0, 1, last)
    kept, steps = 0, 0 if at_start else 1
    for day in since:
        if abs(day - reach(rule, base, steps)) <= rule.keep_anchor:
            kept, steps = (kept + 1 if steps else 0), steps + 1
        else:
            base, kept, steps = day, 0, 1
    return Folded(base, kept, steps, last)


def reach(rule: Rule, base: int, steps: int) -> int:
    """The day so many intervals after a base, counted from the base (design 4.1)."""
    every = rule.every
    if every is None or not every.in_months:
        return base + steps * (every.count if every else 0)
    table = month_table()
    place = base - table.first_day
    month = int(table.month[place]) + steps * every.count
    within = min(int(table.day_of_month[place]), int(table.last_place[month]))
    return int(table.first_of[month]) + within
