"""Who is out when, told in a terminal? A line a trip under its month, with its days on a ruler."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterator, Sequence

from fleet.pictures.columns import cut, padded
from fleet.pictures.phrases import month_text, span_text, weekday
from fleet.pictures.plan_words import Numbered, numbered
from notifications.digests.words import counted
from schedules.visits.told import ToldPlan

__all__ = ["months_text"]

_DAYS, _LEAST_NAME = 31, 8
_BEFORE = len("   1  29 Mar – 2 Apr ") + len("   10    24  ")
_ONE = dt.timedelta(days=1)


def months_text(told: ToldPlan, width: int = 80) -> str:
    """The months in which someone is out, in lines of at most `width` columns (40 at least).

    A trip over the end of a month stands in both. On the ruler # is a day out, a dot a weekday.
    Below 73 columns there is no ruler.
    """
    trips = numbered(told)
    if not trips:
        return "No trip is planned.\n"
    months = sorted({day.replace(day=1) for one in trips for day in _ends(one)})
    parts = [_month(month, [one for one in trips if _is_in(one, month)], width) for month in months]
    return "\n".join("".join(f"{line.rstrip()}\n" for line in part) for part in parts)


def _month(month: dt.date, trips: Sequence[Numbered], width: int) -> Iterator[str]:
    room = width - _BEFORE - _DAYS
    has_ruler = room >= _LEAST_NAME
    room = room if has_ruler else width - _BEFORE
    yield cut(f"{month_text(month)}: {_counts(month, trips)}", width)
    if has_ruler:
        yield " " * (_BEFORE + room) + _ruler_numbers(month)
    head = f"{'trip':>4}  {'days':<14} {padded('technician', room)} vis. serv.  "
    yield head + (_weekdays(month) if has_ruler else "")
    for one in trips:
        days = span_text(one.trip.starts_on, one.trip.ends_on)
        line = f"{one.number:>4}  {days:<14} {padded(one.trip.technician, room)}"
        line += f" {len(one.trip.visits):>4} {one.services:>5}  "
        yield line + (_ruler(month, one) if has_ruler else "")


def _counts(month: dt.date, trips: Sequence[Numbered]) -> str:
    """What of the trips lies in a month: visits by their first day, services by their own."""
    visits = [visit for one in trips for visit in one.trip.visits]
    services = [need for visit in visits for need in visit.needs]
    begun = sum(visit.arrives_on.replace(day=1) == month for visit in visits)
    done = sum(need.on.replace(day=1) == month for need in services)
    counts = counted(len(trips), "trip"), counted(begun, "visit")
    return f"{', '.join(counts)}, {counted(done, 'service')}"


def _ruler(month: dt.date, one: Numbered) -> str:
    return "".join(
        "#" if one.trip.starts_on <= on <= one.trip.ends_on else " " if on.weekday() > 4 else "·"
        for on in _days(month)
    )


def _weekdays(month: dt.date) -> str:
    return "".join(weekday(on)[0] for on in _days(month))


def _ruler_numbers(month: dt.date) -> str:
    """1, 5, 10 ... at their days."""
    line = ""
    for day in (1, *range(5, len(_days(month)) + 1, 5)):
        line = line.ljust(day - 1) + str(day)
    return line


def _days(month: dt.date) -> list[dt.date]:
    return [month + n * _ONE for n in range(calendar.monthrange(month.year, month.month)[1])]


def _ends(one: Numbered) -> tuple[dt.date, dt.date]:
    return one.trip.starts_on, one.trip.ends_on


def _is_in(one: Numbered, month: dt.date) -> bool:
    return any(day.replace(day=1) == month for day in _ends(one))
