"""In what does a chart differ from an earlier print of it, in words a site lead understands?

Told is what a calendar, an outage, a placement or the rule book changed since then; marks that came
in, and days that went by, are no difference. Days are of the chart's year, so it is not said.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence

from fleet.domain.prints import Print
from fleet.services.charts.days import Cause
from fleet.services.charts.facts import NOT_ASKED, OPEN, SIGN_OF_CAUSE, RowRole, YearChart
from fleet.services.charts.frozen import FrozenRow, cells_of, frozen_row, row_key, rows_of
from fleet.services.charts.periods import spans_of_year
from fleet.services.charts.row_differences import day_words, row_differences

__all__ = [
    "DayWhy",
    "cells_asked",
    "differences",
    "differences_from",
    "shortened",
]

MOST = 5
"""So many sentences are told, and of the rest how many they are."""
_RANGES_SHOWN = 3
_CAUSE_OF_SIGN = {sign: cause for cause, sign in SIGN_OF_CAUSE.items()}
_WEEKDAY = SIGN_OF_CAUSE[Cause.WEEKDAY]
_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_ONE_DAY = dt.timedelta(days=1)

DayWhy = Callable[[int], tuple[str, str]]
"""Why a day of the year, counted from 0, is not expected: a sign of `facts`, and words or ''."""


def differences(old: Print, chart: YearChart) -> list[str]:
    """What is different on a chart since an earlier print of the same unit, site and year.

    A handful of sentences: days, then rows; empty where the print says the same.
    """
    new_rows = [frozen_row(row) for row in chart.rows]
    return differences_from(old, chart.days, _why_in(chart), new_rows, list(_crossed(old, chart)))


def differences_from(
    old: Print, days: str, why: DayWhy, rows: Sequence[FrozenRow], crossed: Sequence[str]
) -> list[str]:
    """As `differences`, from the signs of the days and the rows; why: asked for closed days.

    crossed: sentences on cells that were crossed out and are asked for now. They are told only
    where no day was opened, which would tell of them too.
    """
    changed = _day_differences(old.days, days, old.year, why)
    changed += row_differences(rows_of(old), rows, old.year)
    if any(was != OPEN == now for was, now in zip(old.days, days, strict=True)):
        return shortened(changed)
    return shortened([*changed, *crossed])


def cells_asked(title: str, spans: Iterable[tuple[dt.date, dt.date]]) -> str:
    """Says of a row which of its cells were crossed out and are asked for now."""
    return f"{title}: asked for now, was crossed out: {', '.join(_span(*one) for one in spans)}"


def _crossed(old: Print, chart: YearChart) -> Iterator[str]:
    """A sentence for each row with weeks or longer periods of which that is so."""
    signs = dict(zip(map(row_key, rows_of(old)), cells_of(old), strict=False))
    for row in chart.rows:
        if row.role not in (RowRole.WEEK, RowRole.BOX) or row.each is None or row.turn > 1:
            continue
        was = signs.get(row_key(row), "")
        cells = zip(spans_of_year(row.each, chart.year), was, row.faces, strict=False)
        opened = [
            span
            for span, sign, face in cells
            if sign in _CAUSE_OF_SIGN and face.sign not in (*_CAUSE_OF_SIGN, NOT_ASKED)
        ]
        if opened:
            yield cells_asked(row.title, opened)


def shortened(sentences: Sequence[str]) -> list[str]:
    """The first sentences, and how many more there are."""
    if len(sentences) <= MOST:
        return list(sentences)
    return [*sentences[: MOST - 1], f"and {len(sentences) - MOST + 1} more"]


def _why_in(chart: YearChart) -> DayWhy:
    first_on = dt.date(chart.year, 1, 1)

    def why(turn: int) -> tuple[str, str]:
        on, sign = first_on + turn * _ONE_DAY, chart.days[turn]
        told = (
            note.words
            for note in chart.notes[on.month - 1]
            if note.sign == sign and note.first <= on.day <= note.last
        )
        return sign, next(told, "")

    return why


def _day_differences(old: str, new: str, year: int, why: DayWhy) -> list[str]:
    """Days that were open and are closed now, by their reason; then days that are open now."""
    closed: dict[tuple[str, str], list[int]] = defaultdict(list)
    opened = []
    for turn, (was, now) in enumerate(zip(old, new, strict=True)):
        if was == OPEN and now != OPEN:
            sign, words = why(turn)
            closed[sign, "" if sign == _WEEKDAY else words].append(turn)
        elif was != OPEN and now == OPEN:
            opened.append(turn)
    told = [
        f"{_what(sign)}: {_ranges(turns, new, year)} ({_reason(sign, words)})"
        for (sign, words), turns in closed.items()
    ]
    if opened:
        told.append(f"days now open that were crossed out: {_ranges(opened, old, year)}")
    return told


def _what(sign: str) -> str:
    is_of_site = _CAUSE_OF_SIGN[sign] in (Cause.WEEKDAY, Cause.HOLIDAY, Cause.CLOSURE)
    return "days now closed" if is_of_site else "days no longer expected"


def _reason(sign: str, words: str) -> str:
    cause = "weekly pattern" if sign == _WEEKDAY else _CAUSE_OF_SIGN[sign].value
    return f"{cause}: {words}" if words else cause


def _ranges(turns: Sequence[int], signs: str, year: int) -> str:
    """Days in a few words: '3 to 7 Aug, 27 Nov', or 'Fridays from 3 Jul to 18 Dec'.

    turns: of the year, counted from 0; signs: of the whole year. Days that were crossed out before
    and after do not part a range.
    """
    dates = [dt.date(year, 1, 1) + turn * _ONE_DAY for turn in turns]
    spans = _spans(turns, signs)
    weekdays = {on.weekday() for on in dates}
    if len(spans) > _RANGES_SHOWN and len(weekdays) == 1:
        return f"{_WEEKDAYS[weekdays.pop()]}s from {day_words(dates[0])} to {day_words(dates[-1])}"
    named = [_span(dates[first], dates[last]) for first, last in spans[:_RANGES_SHOWN]]
    more = len(dates) - spans[len(named) - 1][1] - 1
    return ", ".join(named) + (f" and {more} more" if more else "")


def _spans(turns: Sequence[int], signs: str) -> list[tuple[int, int]]:
    """First and last place of each run of days, with nothing but crossed-out days within."""
    found: list[tuple[int, int]] = []
    for place, turn in enumerate(turns):
        if found and all(sign != OPEN for sign in signs[turns[place - 1] + 1 : turn]):
            found[-1] = found[-1][0], place
        else:
            found.append((place, place))
    return found


def _span(first: dt.date, last: dt.date) -> str:
    if first == last:
        return day_words(first)
    is_of_month = (first.year, first.month) == (last.year, last.month)
    return f"{first.day if is_of_month else day_words(first)} to {day_words(last)}"
