"""How much sooner is the next due date known than with dates, tables and libraries at hand?

The work: last date done + interval, rolled to an open day of the site's calendar, for rows that
stand in the order of their rules. Every way has its calendars ready before it is timed, and every
way must give the same dates. Ways that go row by row do fewer rows of the same making.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd
from dateutil.relativedelta import relativedelta

from schedules.calendars import SEARCHED_DAYS, CalendarIndex, SiteCalendar
from schedules.dates import Days, date_of, day_of
from schedules.intervals import Terms, step
from schedules.rules import Interval, Roll, Rule
from schedules.units import Places
from tests.studies.speed.interleaved import Floor, Ratio, milliseconds
from tests.studies.speed.invented import FIRST_ON, LAST_ON, ON, calendars

__all__ = ["ratios"]

ROLLS = (Roll.FOLLOWING, Roll.PRECEDING, Roll.MODIFIED_FOLLOWING)
_EVERY = ("P1Y", "P6M", "P3M", "P1M", "P2Y", "P45D", "P90D", "P18M")
NumpyDays = npt.NDArray[np.datetime64]


@dataclass(frozen=True)
class Work:
    """Rows in rule order: starts[r] to starts[r + 1] - 1 are those of rule r."""

    sites: Sequence[SiteCalendar]
    rules: Sequence[Rule]
    starts: Sequence[int]
    last: Days
    calendar: Places
    index: CalendarIndex

    def runs(self) -> list[tuple[Rule, slice]]:
        """Each rule and its rows."""
        spans = zip(self.rules, self.starts[:-1], self.starts[1:], strict=True)
        return [(rule, slice(left, right)) for rule, left, right in spans]

    @cached_property
    def dates(self) -> list[dt.date]:
        return [date_of(day) for day in self.last.tolist()]

    @cached_property
    def open_sets(self) -> list[set[dt.date]]:
        """The open days of each calendar, as dates."""
        first, last = self.index.first_day - SEARCHED_DAYS, self.index.last_day + SEARCHED_DAYS
        masks = [site.open_days(first, last - first + 1) for site in self.sites]
        return [{date_of(first + int(place)) for place in np.flatnonzero(m)} for m in masks]

    @cached_property
    def busday_calendars(self) -> list[np.busdaycalendar]:
        """A mask of weekdays, and the days that are closed all the same."""
        first, last = self.index.first_day - SEARCHED_DAYS, self.index.last_day + SEARCHED_DAYS
        days = np.arange(first, last + 1)
        made = []
        for site in self.sites:
            mask = [weekday in site.weekly[0][1] for weekday in range(7)]
            closed = np.array(mask)[(days + 3) % 7] & ~site.open_days(first, len(days))
            made.append(np.busdaycalendar(mask, days[closed].astype("M8[D]")))
        return made


def work(rows: int, sites: int) -> Work:
    """24 rules, eight intervals under three rolls; a quarter of the dates end a month."""
    random = np.random.default_rng(11)
    book = [
        Rule(
            kind="kind",
            task=f"task-{number}",
            title="Service",
            source="common practice, no source",
            every=Interval.parse(_EVERY[number // 3]),
            roll=ROLLS[number % 3],
        )
        for number in range(24)
    ]
    last = ON - random.integers(0, 800, size=rows)
    month_ends = (last.astype("M8[D]").astype("M8[M]") + 1).astype("M8[D]").astype(np.int64) - 1
    done = np.where(random.random(rows) < 0.25, month_ends, last).astype(np.int32)
    starts = np.linspace(0, rows, len(book) + 1).astype(int).tolist()
    calendar = random.integers(0, sites, size=rows)
    made = calendars(sites, 5)
    index = CalendarIndex(made, FIRST_ON, LAST_ON)
    return Work(made, book, starts, done, calendar, index)


def with_engine(of: Work) -> Days:
    """The engine's own step and roll, a run of one rule at a time."""
    found, terms = np.empty(len(of.last), dtype=np.int32), Terms.of(of.rules)
    for place, (rule, some) in enumerate(of.runs()):
        nominal = step(terms.at(place), of.last[some], np.int32(1))
        found[some] = of.index.roll(nominal, rule.roll, of.calendar[some])
    return found


def _walked(day: dt.date, roll: Roll, open_days: set[dt.date]) -> dt.date:
    one = dt.timedelta(days=1)
    found = day
    if roll is not Roll.PRECEDING:
        while found not in open_days:
            found += one
        if roll is Roll.FOLLOWING or (found.year, found.month) == (day.year, day.month):
            return found
        found = day
    while found not in open_days:
        found -= one
    return found


_LENGTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def _plain_step(day: dt.date, every: Interval) -> dt.date:
    if not every.in_months:
        return day + dt.timedelta(days=every.count)
    years, month = divmod(day.month - 1 + every.count, 12)
    year = day.year + years
    length = _LENGTHS[month]
    if month == 1 and year % 4 == 0 and (year % 100 != 0 or year % 400 == 0):
        length = 29
    return dt.date(year, month + 1, min(day.day, length))


def with_datetime(of: Work) -> list[dt.date]:
    """Dates and sets of open days."""
    places = of.calendar.tolist()
    found: list[dt.date] = []
    for rule, some in of.runs():
        assert rule.every
        for day, place in zip(of.dates[some], places[some], strict=True):
            nominal = _plain_step(day, rule.every)
            found.append(_walked(nominal, rule.roll, of.open_sets[place]))
    return found


def with_dateutil(of: Work) -> list[dt.date]:
    """The same with relativedelta for the interval."""
    places = of.calendar.tolist()
    found: list[dt.date] = []
    for rule, some in of.runs():
        assert rule.every
        unit = "months" if rule.every.in_months else "days"
        apart = relativedelta(**{unit: rule.every.count})  # type: ignore[arg-type]
        for day, place in zip(of.dates[some], places[some], strict=True):
            found.append(_walked(day + apart, rule.roll, of.open_sets[place]))
    return found


def _numpy_step(days: NumpyDays, every: Interval) -> NumpyDays:
    if not every.in_months:
        return days + np.timedelta64(every.count, "D")
    months = days.astype("M8[M]")
    target = months + np.timedelta64(every.count, "M")
    last = (target + 1).astype("M8[D]") - 1
    moved: NumpyDays = np.minimum(target.astype("M8[D]") + (days - months.astype("M8[D]")), last)
    return moved


def _pandas_step(days: NumpyDays, every: Interval) -> NumpyDays:
    apart = pd.DateOffset(
        months=every.count if every.in_months else 0, days=0 if every.in_months else every.count
    )
    moved = pd.DatetimeIndex(days) + apart
    return moved.to_numpy().astype("M8[D]")


def _rolled_by_numpy(of: Work, stepped: Callable[[NumpyDays, Interval], NumpyDays]) -> Days:
    """Step by one way, then numpy.busday_offset for each calendar of each run."""
    found = np.empty(len(of.last), dtype=np.int32)
    last = of.last.astype("M8[D]")
    for rule, some in of.runs():
        assert rule.every
        nominal = stepped(last[some], rule.every)
        place = of.calendar[some]
        order = np.argsort(place, kind="stable")
        edges = np.searchsorted(place[order], np.arange(len(of.busday_calendars) + 1))
        rolled = np.empty(len(nominal), dtype="M8[D]")
        how = rule.roll.value.replace("-", "")
        for calendar, left, right in zip(of.busday_calendars, edges[:-1], edges[1:], strict=True):
            own = order[left:right]
            rolled[own] = np.busday_offset(
                nominal[own],
                0,
                roll=how,  # type: ignore[call-overload]
                busdaycal=calendar,
            )
        found[some] = rolled.astype(np.int64)
    return found


def with_numpy(of: Work) -> Days:
    """datetime64 months and busday_offset."""
    return _rolled_by_numpy(of, _numpy_step)


def with_pandas(of: Work) -> Days:
    """DateOffset for each rule and busday_offset for each calendar."""
    return _rolled_by_numpy(of, _pandas_step)


_QUERY = """
    SELECT CASE r.roll
        WHEN 'following' THEN c.following
        WHEN 'preceding' THEN c.preceding
        ELSE c.modified END AS due
    FROM rows JOIN r USING (rule)
    JOIN c ON c.calendar = rows.calendar AND c.day = (rows.last + r.every)::DATE
    ORDER BY rows.row
"""


class WithDuckDb:
    """An interval and a join with the table of rolled days; one thread."""

    def __init__(self, of: Work) -> None:
        self.database = duckdb.connect(config={"threads": 1})
        rule = np.repeat(np.arange(24, dtype=np.int32), np.diff(of.starts))
        rows = pd.DataFrame(
            {
                "row": np.arange(len(of.last)),
                "rule": rule,
                "calendar": of.calendar.astype(np.int16),
                "last": of.last.astype("M8[D]").astype("M8[s]"),
            }
        )
        days = np.arange(of.index.first_day, of.index.last_day + 1, dtype=np.int32)
        sites = len(of.index.sites)
        where = np.repeat(np.arange(sites), len(days))
        day = np.tile(days, sites)
        table = {"calendar": where.astype(np.int16), "day": day.astype("M8[D]").astype("M8[s]")}
        for name, roll in zip(("following", "preceding", "modified"), ROLLS, strict=True):
            rolled = of.index.roll(day, roll, where)
            table[name] = rolled.astype("M8[D]").astype("M8[s]")
        self._load("rows", rows, "row, rule, calendar, last::DATE AS last")
        dates = ", ".join(f"{name}::DATE AS {name}" for name in list(table)[1:])
        self._load("c", pd.DataFrame(table), f"calendar, {dates}")
        self.database.execute("CREATE TABLE r (rule INTEGER, roll VARCHAR, every INTERVAL)")
        for number, made in enumerate(of.rules):
            assert made.every
            unit = "MONTH" if made.every.in_months else "DAY"
            self.database.execute(
                f"INSERT INTO r VALUES (?, ?, INTERVAL {made.every.count} {unit})",  # noqa: S608
                [number, made.roll.value],
            )

    def _load(self, table: str, frame: pd.DataFrame, columns: str) -> None:
        self.database.register("frame", frame)
        self.database.execute(f"CREATE TABLE {table} AS SELECT {columns} FROM frame")  # noqa: S608
        self.database.unregister("frame")

    def __call__(self, ordered: bool = False) -> Days:
        """The due dates; in the order of the rows only where asked for."""
        query = _QUERY if ordered else _QUERY[: _QUERY.index("ORDER BY")]
        found = np.asarray(self.database.execute(query).fetchnumpy()["due"])
        return found.astype("M8[D]").astype(np.int64).astype(np.int32)


def _check(of: Work, small: Work, duck: WithDuckDb) -> None:
    """Hold every way against the engine."""
    own = with_engine(of)
    assert np.array_equal(own, with_numpy(of))
    assert np.array_equal(own, with_pandas(of))
    assert np.array_equal(own, duck(ordered=True))
    for way in (with_datetime, with_dateutil):
        assert with_engine(small).tolist() == [day_of(day) for day in way(small)]


def ratios(rows: int = 1_000_000, sites: int = 120, few: int = 20_000) -> list[Ratio]:
    """Measure all ways; those that go row by row on `few` rows of the same making."""
    of, small = work(rows, sites), work(few, sites)
    duck = WithDuckDb(of)
    _check(of, small, duck)
    took = milliseconds(
        {
            "engine": lambda: with_engine(of),
            "plain datetime and sets": lambda: with_datetime(small),
            "dateutil relativedelta": lambda: with_dateutil(small),
            "pandas DateOffset and busday_offset": lambda: with_pandas(of),
            "DuckDB interval and join": duck,
            "numpy datetime64 and busday_offset": lambda: with_numpy(of),
        },
        7,
    )
    floors = {
        "plain datetime and sets": Floor(300, 150),
        "DuckDB interval and join": Floor(25, 15),
    }
    a_row = {
        name: spent / (few if name.startswith(("plain", "dateutil")) else rows)
        for name, spent in took.items()
    }
    engine = a_row.pop("engine")
    return [
        Ratio(f"next due date, {name} / engine", spent / engine, floors.get(name))
        for name, spent in a_row.items()
    ]
