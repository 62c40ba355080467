"""Which rows does the chart of a kind of unit have in a year, from top to bottom?

Day rows, week rows, rows of duties to be done on a day, initials, then boxes from months to years,
then those of the head.
A row is of the versions of its rule that are in force on the first day of one of its cells (of a
dated duty: on a day of the year); a rule whose period changes in the year has a row for each.
Dated duties of three months or more stand in the chart's header, the first three of the book;
those beyond have rows.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from fleet.services.charts.facts import RowRole
from schedules.cells import Periods
from schedules.dates import day_of
from schedules.rules import Each, Interval, Kind, Rule

__all__ = ["HEADER_DUTIES", "RowPlan", "RowPlans", "is_long", "row_plans"]

HEADER_DUTIES = 3
_LONG_MONTHS, _LONG_DAYS = 3, 90
_ROLES = {Each.OPEN_DAY: RowRole.DAY, Each.WEEK: RowRole.WEEK}
_ORDER = tuple(RowRole)
_EACHES = (None, *Each)
_ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class RowPlan:
    """A row before it has faces; its fields are those of `facts.ChartRow`."""

    role: RowRole
    task: str
    title: str
    each: Each | None
    turn: int
    times: int
    versions: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class RowPlans:
    """A chart's rows, and the dated duties of its header, each with its versions, oldest first."""

    rows: tuple[RowPlan, ...]
    dated: tuple[tuple[Rule, ...], ...]

    @property
    def is_chart(self) -> bool:
        """Say whether there is a chart: a cell rule, or a dated duty of less than three months."""
        rules = (rule for row in self.rows for rule in row.versions)
        return any(rule.every is None or not is_long(rule.every) for rule in rules)


def is_long(every: Interval) -> bool:
    """Say whether a dated duty comes every three months (90 days) or more seldom."""
    return every.count >= (_LONG_MONTHS if every.in_months else _LONG_DAYS)


@lru_cache(maxsize=256)
def row_plans(kind: Kind, model: str, year: int) -> RowPlans:
    """The rows of a chart of this kind and model; without any where nothing is asked in the year.

    A version made for the model wins over one for every model, as in `Kind.tasks`.
    """
    rows: list[RowPlan] = []
    dated: list[tuple[Rule, ...]] = []
    for versions in kind.tasks(model).values():
        rows += _cell_rows(versions, year)
        in_year = _in_force(versions, year)
        short = tuple(rule for rule in in_year if rule.every and not is_long(rule.every))
        long = tuple(rule for rule in in_year if rule.every and is_long(rule.every))
        has_room = len(dated) < HEADER_DUTIES
        if long and has_room:
            dated.append(long)
            rows.append(_plan(RowRole.DATED, None, 1, 1, long))
        on_day = short if has_room else short + long
        if on_day:
            rows.append(_plan(RowRole.ON_DAY, None, 1, 1, _oldest_first(on_day)))
    if any(row.role in (RowRole.DAY, RowRole.ON_DAY) for row in rows):
        rows.append(_INITIALS)
    rows.sort(key=lambda row: (_ORDER.index(row.role), _EACHES.index(row.each)))
    return RowPlans(tuple(rows), tuple(dated))


_INITIALS = RowPlan(
    role=RowRole.INITIALS, task="", title="Initials", each=None, turn=1, times=1, versions=()
)


def _cell_rows(versions: Sequence[Rule], year: int) -> list[RowPlan]:
    """A row for each period of a cell rule and each mark that a cell asks for."""
    found: list[RowPlan] = []
    cells = _cell_versions(versions, year)
    for each in Each:
        own = tuple(rule for rule in cells if rule.each is each)
        role, times = _ROLES.get(each, RowRole.BOX), max((rule.times for rule in own), default=0)
        found += (_plan(role, each, turn, times, own) for turn in range(1, times + 1))
    return found


def _cell_versions(versions: Sequence[Rule], year: int) -> tuple[Rule, ...]:
    """The versions of which a cell stands on the year's charts, oldest first."""
    if all(rule.each is None for rule in versions):
        return ()
    first, last = day_of(dt.date(year, 1, 1)), day_of(dt.date(year, 12, 31))
    periods = Periods.within(versions, first - 6, last + 6)
    spans = zip(periods.from_days.tolist(), periods.to_days.tolist(), periods.rules, strict=True)
    return _oldest_first(
        rule
        for from_day, to_day, rule in spans
        if first <= (from_day + 3 if rule.each is Each.WEEK else from_day)
        and (from_day + 3 if rule.each is Each.WEEK else to_day) <= last
    )


def _in_force(versions: Sequence[Rule], year: int) -> tuple[Rule, ...]:
    """The versions that speak on a day of the year, oldest first."""
    first_on, last_on = dt.date(year, 1, 1), dt.date(year, 12, 31)
    edges = {first_on}
    for rule in versions:
        edges |= {rule.from_on or first_on, (rule.until_on or first_on) + _ONE_DAY}
    days = [on for on in edges if first_on <= on <= last_on]
    speaking = (next((rule for rule in versions if rule.speaks_on(on)), None) for on in days)
    return _oldest_first(rule for rule in speaking if rule is not None)


def _oldest_first(rules: Iterable[Rule]) -> tuple[Rule, ...]:
    """Each rule once."""
    found = list(dict.fromkeys(rules))
    return tuple(sorted(found, key=lambda r: (r.from_on or dt.date.min, bool(r.models))))


def _plan(
    role: RowRole, each: Each | None, turn: int, times: int, versions: tuple[Rule, ...]
) -> RowPlan:
    latest = versions[-1]
    return RowPlan(
        role=role,
        task=latest.task,
        title=latest.title,
        each=each,
        turn=turn,
        times=times,
        versions=versions,
    )
