"""How is it said? Dates, counts, money and states in plain words, the same in text and HTML."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Protocol

from notifications.facts import Chart, Duty, Period, Standing
from notifications.languages import spoken, tr, trn
from schedules.rules import Each

__all__ = [
    "beside",
    "cautions_of",
    "counted",
    "county",
    "day",
    "dollars",
    "gap_words",
    "joined",
    "mark_by",
    "month",
    "stands",
    "title_of",
    "week_end",
    "week_start",
    "when",
]

_DAYS = {
    "en": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
    "es": ("lun", "mar", "mié", "jue", "vie", "sáb", "dom"),
}
_MONTHS = {
    "en": (
        "January", "February", "March", "April", "May", "June",
        "July", "August", "September", "October", "November", "December",
    ),
    "es": (
        "enero", "febrero", "marzo", "abril", "mayo", "junio",
        "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre",
    ),
}  # fmt: skip
_DATES_SHOWN = 4


def day(on: dt.date) -> str:
    """A date as people say it: 'Fri 4 Dec 2026', whatever the machine's language."""
    name = _month_name(on)
    short = name[: 4 if name == "septiembre" else 3]
    if spoken() not in _DAYS:
        return _cldr(on, "E d MMM y")
    return f"{_DAYS[spoken()][on.weekday()]} {on.day} {short} {on.year}"


def month(on: dt.date) -> str:
    """The month of a date: 'December 2026'."""
    return tr("{month} {year}", month=_month_name(on), year=on.year)


def _month_name(on: dt.date) -> str:
    if spoken() not in _MONTHS:
        return _cldr(on, "LLLL")
    return _MONTHS[spoken()][on.month - 1]


def _cldr(on: dt.date, pattern: str) -> str:
    """A date by the patterns of the Common Locale Data Repository, for further languages."""
    from babel.dates import format_date

    return str(format_date(on, pattern, locale=spoken()))


def week_start(on: dt.date) -> dt.date:
    """The Monday of a date's ISO week."""
    return on - dt.timedelta(days=on.weekday())


def week_end(on: dt.date, weeks_later: int = 0) -> dt.date:
    """The Sunday of a date's ISO week, or of a later one."""
    return week_start(on) + dt.timedelta(days=6 + 7 * weeks_later)


def counted(count: int, one: str, many: str = "") -> str:
    """A count with its noun: '1 unit', '12 units', '1,204 units'.

    In the catalogues the texts are '{count} unit' and '{count} units'.
    """
    return trn(f"{{count}} {one}", f"{{count}} {many or one + 's'}", count)


def dollars(cents: int) -> str:
    """Whole cents as dollars: '$1,240.00'."""
    return f"${cents // 100:,}.{cents % 100:02d}"


def joined(words: Sequence[str]) -> str:
    """A list in a sentence: 'a', 'a and b', 'a, b and c'."""
    if len(words) < 2:
        return "".join(words)
    return tr("{words} and {last}", words=", ".join(words[:-1]), last=words[-1])


def county(name: str) -> str:
    """A county with the word once: 'Adams County'."""
    is_told = not name or name.casefold().endswith("county")
    return name if is_told else tr("{name} County", name=name)


class _Titled(Protocol):
    @property
    def title(self) -> str: ...
    @property
    def title_es(self) -> str: ...


class _Warned(Protocol):
    @property
    def cautions(self) -> tuple[str, ...]: ...
    @property
    def cautions_es(self) -> tuple[str, ...]: ...


def title_of(one: _Titled) -> str:
    """What a task is called in the language that is spoken, else in English."""
    return (spoken() == "es" and one.title_es) or one.title


def cautions_of(one: _Warned) -> tuple[str, ...]:
    """What is warned of in the language that is spoken, else in English."""
    return (spoken() == "es" and one.cautions_es) or one.cautions


def when(duty: Duty, on: dt.date) -> str:
    """How a duty stands on a day: 'Overdue by 12 days', 'Due by Fri 4 Dec 2026'."""
    if duty.standing is Standing.OVERDUE:
        return trn("Overdue by {count} day", "Overdue by {count} days", duty.days_past_due)
    if duty.due_on < on:
        return tr("Was due {day}", day=day(duty.due_on))
    if duty.due_on == on:
        return tr("Due today, {day}", day=day(on))
    return tr("Due by {day}", day=day(duty.due_on))


def beside(duty: Duty, on: dt.date) -> str:
    """The other date that matters beside `when`; '' where there is none."""
    if duty.standing is Standing.OVERDUE:
        return tr("due {day}", day=day(duty.due_on))
    in_grace = duty.due_on <= on < duty.limit_on
    return tr("overdue after {day}", day=day(duty.limit_on)) if in_grace else ""


def stands(duty: Duty, on: dt.date) -> str:
    """`when` and `beside` in one phrase: 'Overdue by 12 days (due Wed 18 Nov 2026)'."""
    other = beside(duty, on)
    return f"{when(duty, on)} ({other})" if other else when(duty, on)


def mark_by(closes_on: dt.date, on: dt.date) -> str:
    """Until when a chart cell can be marked: 'Mark today', 'Mark by Fri 4 Dec 2026'."""
    return tr("Mark today") if closes_on == on else tr("Mark by {day}", day=day(closes_on))


def gap_words(chart: Chart) -> str:
    """Which cells of a chart are empty: 'Not marked: 3 open days, Mon 2 Nov to ...'."""
    if not chart.gaps:
        return tr("Not marked: {periods}", periods=_last(chart.each, max(1, chart.missed)))
    names = [_period(gap, chart.each) for gap in chart.gaps]
    if len(names) <= _DATES_SHOWN:
        return tr("Not marked: {periods}", periods=joined(names))
    return tr(
        "Not marked: {periods} from {first} to {last}",
        periods=_periods(chart.each, len(names)),
        first=names[0],
        last=names[-1],
    )


def _periods(each: Each, count: int) -> str:
    """So many periods of a chart."""
    return {
        Each.OPEN_DAY: counted(count, "open day"),
        Each.WEEK: counted(count, "week"),
        Each.MONTH: counted(count, "month"),
        Each.QUARTER: counted(count, "quarter"),
        Each.HALF_YEAR: counted(count, "half-year"),
        Each.YEAR: counted(count, "year"),
    }[each]


def _last(each: Each, count: int) -> str:
    """The last periods of a chart."""
    return {
        Each.OPEN_DAY: trn("the last open day", "the last {count} open days", count),
        Each.WEEK: trn("the last week", "the last {count} weeks", count),
        Each.MONTH: trn("the last month", "the last {count} months", count),
        Each.QUARTER: trn("the last quarter", "the last {count} quarters", count),
        Each.HALF_YEAR: trn("the last half-year", "the last {count} half-years", count),
        Each.YEAR: trn("the last year", "the last {count} years", count),
    }[each]


def _period(period: Period, each: Each) -> str:
    if each is Each.OPEN_DAY:
        return day(period.from_on)
    if each is Each.WEEK:
        return tr("the week of {day}", day=day(period.from_on))
    if each is Each.MONTH:
        return month(period.from_on)
    first, last = _month_name(period.from_on), month(period.to_on)
    return tr("{first} to {last}", first=first, last=last)
