"""Which invented calendars, rules and rows are measured? The same ones on every run."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from schedules.calendars import CalendarIndex, SiteCalendar, Spell
from schedules.dates import FAR, NEVER, Days, day_of
from schedules.due import DueRows
from schedules.rules import Interval, Roll, Rule
from schedules.units import Places, UnitColumns, UnitSpan

__all__ = ["ON", "Fleet", "calendars", "fleet", "rules"]

ON = day_of(dt.date(2026, 3, 2))
FIRST_ON, LAST_ON = dt.date(2014, 1, 1), dt.date(2033, 12, 31)
RULES_A_KIND = 8
_EVERY = ("P1Y", "P6M", "P3M", "P1M", "P45D", "P2W", "P90D", "P2Y")


def calendars(sites: int, seed: int, fewest: int = 2) -> list[SiteCalendar]:
    """Sites open `fewest` to six days a week, each with ten holidays a year and a few closures."""
    random = np.random.default_rng(seed)
    made = []
    for site in range(sites):
        weekdays = frozenset(random.permutation(6)[: random.integers(fewest, 7)].tolist())
        first = day_of(FIRST_ON)
        span = day_of(LAST_ON) - first
        holidays = {
            FIRST_ON + dt.timedelta(days=int(day)): "holiday"
            for day in random.integers(0, span, size=10 * span // 365)
        }
        starts = random.integers(0, span - 20, size=span // 365)
        closures = tuple(
            Spell(
                FIRST_ON + dt.timedelta(days=int(start)),
                FIRST_ON + dt.timedelta(days=int(start + random.integers(2, 15))),
                "closed",
            )
            for start in starts
        )
        made.append(SiteCalendar(f"s{site:04}", ((dt.date.min, weekdays),), holidays, closures))
    return made


def rules(kinds: int) -> list[Rule]:
    """Eight rules a kind, one of them fixed; the anchored ones of all kinds first."""
    numbers = range(kinds * RULES_A_KIND)
    is_fixed = {number: number % RULES_A_KIND == RULES_A_KIND - 1 for number in numbers}
    order = sorted(numbers, key=lambda number: is_fixed[number])
    return [_rule(number, fixed=is_fixed[number]) for number in order]


def _rule(number: int, *, fixed: bool) -> Rule:
    rolls, turn = list(Roll), number // RULES_A_KIND
    return Rule(
        kind=f"kind-{turn}",
        task=f"task-{number % RULES_A_KIND}",
        title="Service",
        source="common practice, no source",
        every=Interval.parse(_EVERY[number % 8 if not fixed else turn % 4]),
        anchor_on=dt.date(2020, 1, 31) + dt.timedelta(days=turn % 300) if fixed else None,
        early=turn % 5 * 7,
        grace=turn % 3 * 5,
        roll=rolls[(number + turn) % len(rolls)],
    )


@dataclass(frozen=True, slots=True)
class Fleet:
    """A fleet ready to be asked: what `schedules.due.due` takes, but for the day."""

    rules: list[Rule]
    rows: DueRows
    units: UnitColumns
    index: CalendarIndex


def fleet(rows: int, sites: int, kinds: int) -> Fleet:
    """Units of `kinds` kinds with eight rules each; 3 % of them out of service at some time."""
    random = np.random.default_rng(7)
    book = rules(kinds)
    a_kind = rows // (kinds * RULES_A_KIND)
    count = a_kind * kinds
    in_service = ON - random.integers(400, 4_000, size=count)
    site = random.integers(0, sites, size=count)
    out = random.random(count) < 0.03
    start = ON - random.integers(-60, 500, size=count)
    spans = [
        UnitSpan(begin, FAR, begin, where, outages=((a, a + 30),) if is_out and a > begin else ())
        for begin, where, is_out, a in zip(
            in_service.tolist(), site.tolist(), out.tolist(), start.tolist(), strict=True
        )
    ]
    rule = np.repeat(np.arange(len(book), dtype=np.int32), a_kind)
    kind = np.array([int(rule.kind.removeprefix("kind-")) for rule in book])
    unit = (kind[:, None] * a_kind + np.arange(a_kind)).reshape(-1)
    last = _last_done(book, rule, in_service[unit], random)
    was_done = last != NEVER
    due_rows = DueRows(
        rule=rule,
        unit=unit,
        base=np.where(was_done, last, in_service[unit]).astype(np.int32),
        steps=np.ones(len(rule), dtype=np.int32),
        last=last,
        event=np.full(len(rule), NEVER, dtype=np.int32),
    )
    index = CalendarIndex(calendars(sites, 5), FIRST_ON, LAST_ON)
    return Fleet(book, due_rows, UnitColumns.build(spans), index)


def _last_done(
    book: list[Rule], rule: Days, in_service: Places, random: np.random.Generator
) -> Days:
    """The last done date of each row: about a fifth of them too long ago, a few never."""
    spans = [r.every.count * (30 if r.every.in_months else 1) for r in book if r.every]
    ago = random.random(len(rule)) * np.array(spans)[rule] * 1.15
    last = ON - ago.astype(np.int64)
    never = (random.random(len(rule)) < 0.02) | (last < in_service)
    return np.where(never, NEVER, last).astype(np.int32)
