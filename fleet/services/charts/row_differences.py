"""In what do the rows of two charts of one unit and year differ, and from which day on?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import replace

from fleet.services.charts.facts import RowRole
from fleet.services.charts.frozen import FrozenRow, FrozenRule
from schedules.rules import Each

__all__ = ["day_words", "row_differences"]

_EACH = {each: f"each {each.value.replace('-', ' ')}" for each in Each}
_UNITS = {"D": "day", "W": "week", "M": "month", "Y": "year"}
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_ONE_DAY = dt.timedelta(days=1)


def day_words(on: dt.date) -> str:
    """A day of a year that is known: '27 Nov', whatever the machine's language."""
    return f"{on.day} {_MONTHS[on.month - 1]}"


def row_differences(old: Sequence[FrozenRow], new: Sequence[FrozenRow], year: int) -> list[str]:
    """Sentences on rows that came, went or ask for something else; that of initials is not told.

    A change that holds for only a part of the year names its first day.
    """
    before, after = _by_task(old), _by_task(new)
    told: list[str] = []
    for task, rows in after.items():
        if task in before:
            told += _task_differences(before[task], rows, year)
        else:
            told.append(f"new {_what(rows)}: {rows[0].title}")
    return told + [
        f"{_what(rows)} gone: {rows[0].title}" for task, rows in before.items() if task not in after
    ]


def _what(rows: Sequence[FrozenRow]) -> str:
    return "duty by date" if _is_in_head(rows) else "row"


def _is_in_head(rows: Sequence[FrozenRow]) -> bool:
    """Say whether a task has a box in the head, and so no row in the months for the same rule."""
    return any(row.role is RowRole.DATED for row in rows)


def _by_task(rows: Sequence[FrozenRow]) -> dict[str, list[FrozenRow]]:
    found: dict[str, list[FrozenRow]] = {}
    for row in rows:
        if row.task:
            found.setdefault(row.task, []).append(row)
    return found


def _task_differences(old: Sequence[FrozenRow], new: Sequence[FrozenRow], year: int) -> list[str]:
    """What changed in a row's rule, each once, with the day on which it begins to be different.

    A duty of the head is called what it is called there.
    """
    first_on, is_in_head = dt.date(year, 1, 1), _is_in_head(old)
    task = old[0].title if is_in_head or _is_in_head(new) else old[0].task
    before, after = _versions(old), _versions(new)
    found: dict[str, str] = {}
    for on in _edges([*before, *after], first_on):
        for sentence in _changes(task, _in_force(before, on), _in_force(after, on)):
            found.setdefault(sentence, "" if on == first_on else f" from {day_words(on)}")
    if not found and is_in_head != _is_in_head(new):
        places = ("the head", "a row of days")
        was, now = places if is_in_head else reversed(places)
        return [f"{task}: written in {now} instead of {was}"]
    return [sentence + since for sentence, since in found.items()]


def _versions(rows: Sequence[FrozenRow]) -> list[FrozenRule]:
    """The versions of a rule, the one that wins first (`Kind.tasks`)."""
    found = dict.fromkeys(rule for row in rows for rule in row.versions)
    oldest = dt.date.min
    return sorted(found, key=lambda r: (r.for_model, r.from_on or oldest), reverse=True)


def _edges(versions: Sequence[FrozenRule], first_on: dt.date) -> list[dt.date]:
    """The days of the year on which another version may begin to speak."""
    edges = {first_on}
    for rule in versions:
        edges |= {rule.from_on} if rule.from_on else set()
        edges |= {rule.until_on + _ONE_DAY} if rule.until_on else set()
    return sorted(on for on in edges if on.year == first_on.year)


def _in_force(versions: Sequence[FrozenRule], on: dt.date) -> FrozenRule | None:
    return next(
        (
            rule
            for rule in versions
            if (rule.from_on is None or rule.from_on <= on)
            and (rule.until_on is None or on <= rule.until_on)
        ),
        None,
    )


def _changes(task: str, old: FrozenRule | None, new: FrozenRule | None) -> Iterator[str]:
    """What another version says otherwise; nothing of when versions begin and end."""
    if old is None or new is None:
        if new is not None:
            yield f"{task}: now asked {_often(new)}"
        if old is not None:
            yield f"{task}: no longer asked"
        return
    if _often(old) != _often(new):
        yield f"{task}: {_often(new)} instead of {_often(old)}"
    if old.range != new.range:
        yield f"{task}: {_reading(new)} instead of {_reading(old)}"
    if old.title != new.title:
        yield f"{task} is now called '{new.title}'"
    if old.cautions != new.cautions:
        yield f"the cautions of {task} changed"
    if _rest(old) != _rest(new) and old.each == new.each:
        yield f"{task}: counted otherwise"


def _rest(rule: FrozenRule) -> FrozenRule:
    """What is left of a version without what is told of it by name."""
    # Whether it is made for some models does not show on paper, nor when a version begins.
    bare = replace(rule, from_on=None, until_on=None, for_model=False, title="", cautions="")
    return replace(bare, each=None, every=None, times=1, range=None)


def _often(rule: FrozenRule) -> str:
    """'each open day', '2 marks each week', 'every month', 'every 2 months'."""
    if rule.each is not None:
        marks = f"{rule.times} marks " if rule.times > 1 else ""
        return marks + _EACH[rule.each]
    text = rule.every or "P1D"
    count, unit = text[1:-1], _UNITS[text[-1]]
    return f"every {unit}" if count == "1" else f"every {count} {unit}s"


def _reading(rule: FrozenRule) -> str:
    """'readings from 2.0 to 8.0 C', 'readings of at most 8.0 C', 'no limits of readings'."""
    if rule.range is None:
        return "no limits of readings"
    low, high, unit = rule.range
    if low is None or high is None:
        return f"readings of at {'most' if low is None else 'least'} {high or low} {unit}".rstrip()
    return f"readings from {low} to {high} {unit}".rstrip()
