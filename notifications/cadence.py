"""On which day does a mail go out? A period has a nominal day; the mail goes on the first good one.

A day is *good* for a reader where their site is open and no quiet period lies on it, and *taken*
where another mail of theirs has gone on it. Pure: today and the reader's calendar are arguments.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from notifications.messages import Kind

__all__ = [
    "LATE",
    "NOW",
    "NO_DAY",
    "WAIT",
    "Cadence",
    "Period",
    "decision",
    "first_good",
    "instant",
    "next_instant",
    "periods",
    "week_period",
]

NOW, WAIT = "now", "wait"
NO_DAY = "no open day was left for it"
LATE = "too late: the program was not running when it should have gone"
WEEKLY = frozenset({Kind.SITE_LEAD, Kind.CONSULTANT, Kind.MANAGER})


@dataclass(frozen=True, slots=True, kw_only=True)
class Cadence:
    """When mails go: the weekday of digests (0 is Monday), the day of the new charts, lateness."""

    weekday: int = 0
    new_charts_on: tuple[int, int] = (12, 1)
    """Month and day, in the year before the charts'."""
    late_days: int = 3


@dataclass(frozen=True, slots=True)
class Period:
    """What one mail is for: its name, its nominal day, and the last day on which it may go."""

    kind: Kind
    name: str
    nominal_on: dt.date
    last_on: dt.date


def week_period(on: dt.date) -> str:
    """The ISO week of a day: '2026-W49' (ISO 8601)."""
    year, week, _ = on.isocalendar()
    return f"{year}-W{week:02d}"


def periods(kind: Kind, on: dt.date, cadence: Cadence) -> Iterator[Period]:
    """The periods of a kind that may be decided on a day: the present one and the one before."""
    if kind in WEEKLY:
        monday = on - dt.timedelta(days=on.weekday())
        for first in (monday - dt.timedelta(days=7), monday):
            nominal_on = first + dt.timedelta(days=cadence.weekday)
            yield Period(kind, week_period(first), nominal_on, first + dt.timedelta(days=6))
    elif kind is Kind.GAPS:
        for first in (_month_before(on.replace(day=1)), on.replace(day=1)):
            ended, days = _month_before(first), calendar.monthrange(first.year, first.month)[1]
            yield Period(kind, f"{ended:%Y-%m}", first, first.replace(day=days))
    elif kind is Kind.NEW_CHARTS:
        for year in (on.year - 1, on.year):
            nominal_on = dt.date(year, *cadence.new_charts_on)
            last_on = nominal_on + dt.timedelta(days=31)
            yield Period(kind, str(year + 1), nominal_on, last_on)


def _month_before(first: dt.date) -> dt.date:
    return (first - dt.timedelta(days=1)).replace(day=1)


def decision(
    period: Period,
    on: dt.date,
    is_good: Callable[[dt.date], bool],
    is_taken: Callable[[dt.date], bool],
    late_days: int,
) -> str:
    """What is to become of an undecided period on a day once its hour has come.

    NOW, WAIT, or the reason why nothing is sent: no good day was left, or it is too late (more than
    `late_days` after the day on which it should have gone).
    """
    if on < period.nominal_on:
        return WAIT
    good_on = first_good(period, is_good)
    if good_on is None:
        return WAIT if on <= period.last_on else NO_DAY
    if on > period.last_on or (on - good_on).days > late_days:
        return LATE
    return NOW if is_good(on) and not is_taken(on) else WAIT


def first_good(period: Period, is_good: Callable[[dt.date], bool]) -> dt.date | None:
    """The first good day of a period; None where it has none."""
    days = (period.last_on - period.nominal_on).days
    wanted = (period.nominal_on + dt.timedelta(days=n) for n in range(days + 1))
    return next(filter(is_good, wanted), None)


def instant(on: dt.date, at: dt.time, zone: ZoneInfo) -> dt.datetime:
    """The instant (UTC) of a local time; one that does not exist goes after the gap, and of one
    that comes twice it is the first (PEP 495, fold 0).
    """
    return dt.datetime.combine(on, at, zone).astimezone(dt.UTC)


def next_instant(now: dt.datetime, at: dt.time, zone: ZoneInfo) -> dt.datetime:
    """The next instant after now at which a local time comes."""
    today = now.astimezone(zone).date()
    days = (today + dt.timedelta(days=n) for n in range(3))
    return next(when for when in (instant(day, at, zone) for day in days) if when > now)
