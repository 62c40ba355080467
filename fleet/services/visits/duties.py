"""What are the dates of vendors' duties, the first within a span and those that follow it?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleet.domain.answers import StatusRow
from fleet.services.due import Sheet, answer_sheet
from schedules.cells import in_force
from schedules.dates import day_of
from schedules.marks import MarkedYears
from schedules.rules import Basis, Rule

__all__ = ["Dated", "first_dates", "later_dates"]

_ONE_DAY = dt.timedelta(days=1)
_SHORTEST_MONTH, _SLACK_DAYS = 28, 31


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated:
    """A duty of the sheet that a vendor settles, its rule and its dates as a row of `due`.

    asked_on: the day they were asked for; not_before: the first day on which one that follows
    another may be served, the day after the other's limit.
    """

    duty: int
    rule: Rule
    row: StatusRow
    asked_on: dt.date
    not_before: dt.date | None = None

    @property
    def name(self) -> str:
        """The name of the need it makes."""
        return f"{self.row.property_number}/{self.row.task}/{self.row.due}"

    def is_due_by(self, on: dt.date) -> bool:
        """Whether it has a due date, and not after a day."""
        return self.row.limit is not None and self.row.due is not None and self.row.due <= on


def first_dates(sheet: Sheet, asked_on: Mapping[str, dt.date]) -> tuple[list[Dated], list[str]]:
    """The dates of each unit's vendor duties on the day it is asked about, by property number.

    Beside them, for duties that have no answer, the reason.
    """
    numbers_of: dict[dt.date, set[str]] = defaultdict(set)
    for number, on in asked_on.items():
        numbers_of[on].add(number)
    found: list[Dated] = []
    failures: list[str] = []
    for on, numbers in sorted(numbers_of.items()):
        rows, failed = answer_sheet(replace(sheet, on=on))
        for duty, rule in _vendor_rules(sheet, on):
            unit = sheet.fleet.units[sheet.fleet.duties.unit[duty]]
            if unit.property_number not in numbers:
                continue
            if duty in rows:
                found.append(Dated(duty=duty, rule=rule, row=rows[duty], asked_on=on))
            elif duty in failed:
                failures.append(failed[duty])
    return found, failures


def _vendor_rules(sheet: Sheet, on: dt.date) -> Iterator[tuple[int, Rule]]:
    """The duties that vendors settle, with the rule in force on a day."""
    duties = sheet.fleet.duties
    for place, versions in enumerate(duties.versions):
        rule = in_force(versions, day_of(on))
        if rule is not None and rule.vendor and rule.every is not None:
            span = duties.rows(place)
            yield from ((duty, rule) for duty in range(span.start, span.stop))


def later_dates(
    sheet: Sheet, first: Sequence[Dated], until_on: dt.date, catch_up_days: int
) -> Iterator[Dated]:
    """The due dates until a day that follow others, each asked as if served on the one before.

    One that was due before the day it was asked for counts as served on that day, and one that was
    past its limit then may be served for so many days.
    """
    row, day = sheet.marks.done_days(0, len(sheet.fleet.duties))
    waiting = [one for one in first if _may_recur(one, until_on)]
    while waiting:
        served = {one.duty: _served_on(one) for one in waiting}
        row = np.concatenate([row, np.array(list(served), dtype=np.int64)])
        days = [day_of(on) for on in served.values()]
        day = np.concatenate([day, np.array(days, dtype=np.int32)])
        order = np.lexsort((day, row))
        marks = MarkedYears.pack(row[order], day[order], np.ones(len(row), dtype=np.bool_))
        after = list(_next(replace(sheet, marks=marks), waiting, catch_up_days))
        waiting = [one for one in after if one.is_due_by(until_on)]
        yield from waiting
        waiting = [one for one in waiting if _may_recur(one, until_on)]


def _served_on(one: Dated) -> dt.date:
    """The due date, or the day asked for where it has passed; a fixed date once it has come."""
    row, fixed_on = one.row, one.row.nominal if one.rule.basis is Basis.FIXED else None
    return max(day for day in (row.due, one.asked_on, fixed_on) if day is not None)


def _may_recur(one: Dated, until_on: dt.date) -> bool:
    """Whether it is worth asking; a due date may lie before its nominal one by a roll."""
    every = one.rule.every
    if every is None or one.row.nominal is None:
        return False
    days = every.count * (_SHORTEST_MONTH if every.in_months else 1)
    return (until_on - one.row.nominal).days >= days - _SLACK_DAYS


def _next(sheet: Sheet, served: Sequence[Dated], catch_up_days: int) -> Iterator[Dated]:
    """The dates that follow, asked on the day each was served; a duty without a rule has none."""
    of_day: dict[dt.date, list[Dated]] = defaultdict(list)
    for one in served:
        of_day[_served_on(one)].append(one)
    for on, some in sorted(of_day.items()):
        rows, _ = answer_sheet(replace(sheet, on=on))
        rules = dict(_vendor_rules(sheet, on))
        for one in some:
            row = rows.get(one.duty)
            if row is None or one.duty not in rules or row.due is None or row.limit is None:
                continue
            if row.due > on:
                yield Dated(
                    duty=one.duty,
                    rule=rules[one.duty],
                    row=row,
                    asked_on=one.asked_on,
                    not_before=min(_ends_on(one, catch_up_days) + _ONE_DAY, row.limit),
                )


def _ends_on(one: Dated, catch_up_days: int) -> dt.date:
    """The last day on which it may be served."""
    limit = one.row.limit or one.asked_on
    return one.asked_on + dt.timedelta(catch_up_days) if limit < one.asked_on else limit
