"""How is it said? Dates, counts, money and states in plain words, the same in text and HTML."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from notifications.facts import Chart, Duty, Period, Standing
from schedules.rules import Each

__all__ = [
    "beside",
    "counted",
    "county",
    "day",
    "dollars",
    "gap_words",
    "joined",
    "mark_by",
    "month",
    "stands",
    "week_end",
    "week_start",
    "when",
]

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
_PERIODS = {
    Each.OPEN_DAY: ("open day", "open days"),
    Each.WEEK: ("week", "weeks"),
    Each.MONTH: ("month", "months"),
    Each.QUARTER: ("quarter", "quarters"),
    Each.HALF_YEAR: ("half-year", "half-years"),
    Each.YEAR: ("year", "years"),
}
_DATES_SHOWN = 4


def day(on: dt.date) -> str:
    """A date as people say it: 'Fri 4 Dec 2026', whatever the machine's language."""
    return f"{_DAYS[on.weekday()]} {on.day} {_MONTHS[on.month - 1][:3]} {on.year}"


def month(on: dt.date) -> str:
    """The month of a date: 'December 2026'."""
    return f"{_MONTHS[on.month - 1]} {on.year}"


def week_start(on: dt.date) -> dt.date:
    """The Monday of a date's ISO week."""
    return on - dt.timedelta(days=on.weekday())


def week_end(on: dt.date, weeks_later: int = 0) -> dt.date:
    """The Sunday of a date's ISO week, or of a later one."""
    return week_start(on) + dt.timedelta(days=6 + 7 * weeks_later)


def counted(count: int, one: str, many: str = "") -> str:
    """A count with its noun: '1 unit', '12 units', '1,204 units'."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def dollars(cents: int) -> str:
    """Whole cents as dollars: '$1,240.00'."""
    return f"${cents // 100:,}.{cents % 100:02d}"


def joined(words: Sequence[str]) -> str:
    """A list in a sentence: 'a', 'a and b', 'a, b and c'."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def county(name: str) -> str:
    """A county with the word once: 'Adams County'."""
    return name if not name or name.casefold().endswith("county") else f"{name} County"


def when(duty: Duty, on: dt.date) -> str:
    """How a duty stands on a day: 'Overdue by 12 days', 'Due by Fri 4 Dec 2026'."""
    if duty.standing is Standing.OVERDUE:
        return f"Overdue by {counted(duty.days_past_due, 'day')}"
    if duty.due_on < on:
        return f"Was due {day(duty.due_on)}"
    return f"Due today, {day(on)}" if duty.due_on == on else f"Due by {day(duty.due_on)}"


def beside(duty: Duty, on: dt.date) -> str:
    """The other date that matters beside `when`; '' where there is none."""
    if duty.standing is Standing.OVERDUE:
        return f"due {day(duty.due_on)}"
    return f"overdue after {day(duty.limit_on)}" if duty.due_on <= on < duty.limit_on else ""


def stands(duty: Duty, on: dt.date) -> str:
    """`when` and `beside` in one phrase: 'Overdue by 12 days (due Wed 18 Nov 2026)'."""
    other = beside(duty, on)
    return f"{when(duty, on)} ({other})" if other else when(duty, on)


def mark_by(closes_on: dt.date, on: dt.date) -> str:
    """Until when a chart cell can be marked: 'Mark today', 'Mark by Fri 4 Dec 2026'."""
    return "Mark today" if closes_on == on else f"Mark by {day(closes_on)}"


def gap_words(chart: Chart) -> str:
    """Which cells of a chart are empty: 'Not marked: 3 open days, Mon 2 Nov to ...'."""
    one, many = _PERIODS[chart.each]
    if not chart.gaps:
        last = (
            f"the last {counted(chart.missed, one, many)}"
            if chart.missed > 1
            else f"the last {one}"
        )
        return f"Not marked: {last}"
    names = [_period(gap, chart.each) for gap in chart.gaps]
    if len(names) <= _DATES_SHOWN:
        return f"Not marked: {joined(names)}"
    return f"Not marked: {counted(len(names), one, many)} from {names[0]} to {names[-1]}"


def _period(period: Period, each: Each) -> str:
    if each is Each.OPEN_DAY:
        return day(period.from_on)
    if each is Each.WEEK:
        return f"the week of {day(period.from_on)}"
    if each is Each.MONTH:
        return month(period.from_on)
    return f"{_MONTHS[period.from_on.month - 1]} to {month(period.to_on)}"
