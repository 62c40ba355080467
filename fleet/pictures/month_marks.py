"""How is a month drawn with its trips? Weeks as rows, a lane in them for each technician.

A trip lies within one ISO week, so it is one bar; where the month ends in that week it is a bar in
each of the two months. Grey days are those on which nobody works; a grey lane says that its
technician is off while others work.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from fleet.pictures.drawing import Box, Group, Mark, Rect, Stroke, Words
from fleet.pictures.letters import fit, line_height, width
from fleet.pictures.palette import FAINT, OKABE_ITO, PALE, SOFT, ink_on
from fleet.pictures.phrases import long_day, month_text, weekday
from fleet.pictures.plan_words import Numbered, PlanWords
from notifications.digests.words import counted
from schedules.visits.model import Order

__all__ = ["CalendarView", "calendar_view", "colour_of", "letter_of", "month_marks"]

_HEAD, _WEEKDAYS, _DAY, _WEEKS = 5.0, 3.2, 2.6, 6
_TINY = 4.4
_ONE = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class CalendarView:
    """What stands in the months: trips, and whose lane is which."""

    order: Order
    words: PlanWords
    trips: Sequence[Numbered]
    lanes: Mapping[str, int]
    """By technician, from 0."""
    worked: frozenset[dt.date]
    """Days on which some technician works."""


def calendar_view(order: Order, words: PlanWords, trips: Sequence[Numbered]) -> CalendarView:
    """The view of a plan: a lane for every technician who has a trip, in the order's own order."""
    out = {one.trip.technician for one in trips}
    names = [one.technician for one in order.technicians if one.technician in out]
    worked = frozenset(on for one in order.technicians for on in one.works_on)
    return CalendarView(order, words, trips, {name: n for n, name in enumerate(names)}, worked)


def letter_of(lane: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    first, last = divmod(lane, 26)
    return (letter_of(first - 1) if first else "") + chr(ord("A") + last)


def colour_of(lane: int) -> str:
    """The colour of a technician's bars; the letter tells those apart that share one."""
    return OKABE_ITO[lane % len(OKABE_ITO)]


def month_marks(view: CalendarView, month: dt.date, frame: Rect) -> Group:
    """A month's name, weekdays, days and bars; month: its first day."""
    out = [one for one in view.trips if _is_out(one, month)]
    name = month_text(month)
    head = Words(x=frame.left, y=frame.top + 3.6, text=name, size=9, is_bold=True)
    told = Words(
        x=frame.right, y=frame.top + 3.6, text=counted(len(out), "trip"), size=7, colour=SOFT,
        align="end",
    )  # fmt: skip
    grid = frame._replace(top=frame.top + _HEAD + _WEEKDAYS)
    marks: list[Mark] = [head, told, *_weekdays(grid)]
    for on in _days(month):
        marks += _day(view, on, _cell(grid, month, on))
    marks += [_bar(view, one, month, grid) for one in out]
    return Group("month", f"{name}: {counted(len(out), 'trip')}", tuple(marks))


def _is_out(one: Numbered, month: dt.date) -> bool:
    return one.trip.starts_on < _next(month) and one.trip.ends_on >= month


def _weekdays(grid: Rect) -> Iterator[Words]:
    wide = grid.width / 7
    for column in range(7):
        name = weekday(dt.date(2024, 1, 1 + column))[:3]
        x = grid.left + (column + 0.5) * wide
        yield Words(x=x, y=grid.top - 0.8, text=name, size=5.5, colour=SOFT, align="middle")


def _day(view: CalendarView, on: dt.date, cell: Rect) -> Iterator[Mark]:
    order = view.order
    is_asked = order.from_on <= on <= order.to_on
    is_worked = is_asked and on in view.worked
    yield Box(cell, "#ffffff" if is_worked else PALE, Stroke(colour=FAINT, width=0.15))
    colour = "#000000" if is_asked else FAINT
    yield Words(x=cell.left + 0.6, y=cell.top + 2.2, text=str(on.day), size=5.5, colour=colour)
    if not is_worked and (name := view.words.days_off.get(on, "")):
        yield Group("day off", f"{long_day(on)}: {name}", tuple(_name_of_day(name, cell)))
    if is_worked:
        yield from _off(view, on, cell)


def _name_of_day(name: str, cell: Rect) -> Iterator[Words]:
    """In as many small lines as stand in a day."""
    lines, room = [""], cell.width - 1.2
    for word in name.split():
        joined = f"{lines[-1]} {word}".strip()
        if width(joined, _TINY) <= room or not lines[-1]:
            lines[-1] = joined
        else:
            lines.append(word)
    for turn in range(min(len(lines), int((cell.height - _DAY) / line_height(_TINY)))):
        y = cell.top + _DAY + (turn + 0.8) * line_height(_TINY)
        text = fit(lines[turn], room, _TINY)
        yield Words(x=cell.left + 0.6, y=y, text=text, size=_TINY, colour=SOFT)


def _off(view: CalendarView, on: dt.date, cell: Rect) -> Iterator[Mark]:
    for one in view.order.technicians:
        if one.technician in view.lanes and on not in one.works_on:
            lane = _lane(view, one.technician, cell)
            name = f"{long_day(on)}: {one.technician} is off"
            yield Group("off", name, (Box(lane, PALE),))


def _bar(view: CalendarView, one: Numbered, month: dt.date, grid: Rect) -> Group:
    """The days of a trip that lie in a month, in its technician's lane."""
    trip = one.trip
    first = _cell(grid, month, max(trip.starts_on, month))
    last = _cell(grid, month, min(trip.ends_on, _next(month) - _ONE))
    lane = _lane(view, trip.technician, first._replace(right=last.right))
    colour = colour_of(view.lanes[trip.technician])
    text, size = _label(view, one, lane.width - 1.0, min(7.0, lane.height / 0.4))
    label = Words(
        x=lane.left + 0.7, y=lane.middle.y + size * 0.125,
        text=text, size=size, colour=ink_on(colour),
    )  # fmt: skip
    told = (
        f"Trip {one.number}, {trip.technician}, from {long_day(trip.starts_on)} to "
        f"{long_day(trip.ends_on)}: {counted(len(trip.visits), 'visit')}, "
        f"{counted(one.services, 'service')}"
    )
    return Group("trip", told, (Box(lane, colour), label))


def _label(view: CalendarView, one: Numbered, room: float, size: float) -> tuple[str, float]:
    """Number, technician and visits, as long as there is room for them; the size they take."""
    visits, name = len(one.trip.visits), one.trip.technician
    letter = letter_of(view.lanes[name])
    for text in (
        f"{one.number} {name} · {counted(visits, 'visit')}",
        f"{one.number} {letter} · {counted(visits, 'visit')}",
        f"{one.number} {letter} · {visits}",
    ):
        if width(text, size) <= room:
            return text, size
    text = f"{one.number}{letter}·{visits}"
    return text, min(size, size * room / width(text, size))


def _lane(view: CalendarView, technician: str, cell: Rect) -> Rect:
    high = (cell.height - _DAY) / max(1, len(view.lanes))
    top = cell.top + _DAY + view.lanes[technician] * high
    return Rect(cell.left + 0.25, top + 0.1, cell.right - 0.25, top + high - 0.1)


def _cell(grid: Rect, month: dt.date, on: dt.date) -> Rect:
    week = (on.day - 1 + month.weekday()) // 7
    wide, high = grid.width / 7, grid.height / _WEEKS
    left, top = grid.left + on.weekday() * wide, grid.top + week * high
    return Rect(left, top, left + wide, top + high)


def _days(month: dt.date) -> Iterator[dt.date]:
    for day in range(calendar.monthrange(month.year, month.month)[1]):
        yield month + day * _ONE


def _next(month: dt.date) -> dt.date:
    return (month + 31 * _ONE).replace(day=1)
