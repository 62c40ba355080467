"""Which fields has a rule, what may each hold, and in which bases may it stand?

`FIELDS` has a row a field (design 7). A check answers the value as `schedules.rules` wants it, or
raises RuleError with the problem and the mend; where it stands is added by who reads the book.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from enum import StrEnum

from schedules.errors import RuleError
from schedules.rules import (
    FIRST_YEAR,
    LAST_YEAR,
    LEAST_RETENTION,
    Basis,
    DueAfter,
    Each,
    First,
    Interval,
    ReadingRange,
    Roll,
)

__all__ = [
    "BASIS_WORDS",
    "FIELDS",
    "MONTH_DAYS",
    "REQUIRED",
    "Check",
    "Field",
    "nearest",
    "one_line",
    "retention",
    "short_name",
    "shown",
    "unknown",
]

Check = Callable[[object], object]

_MOST_DAYS = 3660
_MOST_MONTHS = 1200
MONTH_DAYS = Decimal("30.4375")  # 365.25 / 12: enough to say which of two intervals is longer
_CODE = re.compile(r"[a-z0-9-]+")
_CIVIL_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


def shown(value: object) -> str:
    """The value as a message shows it: text in quotes and on one line, lists and tables by name."""
    if isinstance(value, str):
        return f"'{' '.join(value.split())}'"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    return str(value)


def _wrong(problem: str, mend: str) -> RuleError:
    return RuleError("", problem, mend)


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise _wrong(f"{shown(value)} is not text", "put it in double quotes")
    if not value.strip():
        raise _wrong("the text is empty", "write some words between the quotes")
    return value


def one_line(value: object) -> str:
    """Text with words in it and without line breaks, fit for a subject line or a chart."""
    text = _text(value)
    if re.search(r"[\x00-\x1f\x7f]", text):
        raise _wrong(f"{shown(value)} has a line break or a tab", "write it on one line")
    return text


def short_name(value: object) -> str:
    """The short name of a kind or task, as people type it in commands and files."""
    code = _text(value)
    if not _CODE.fullmatch(code):
        mend = "use only a to z, 0 to 9 and -, as annual-service"
        raise _wrong(f"{shown(value)} is not a short name", mend)
    return code


def _texts(value: object) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise _wrong(f"{shown(value)} is not a list", "put it in square brackets")
    return tuple(_text(each) for each in value)


def _models(value: object) -> tuple[str, ...]:
    models = _texts(value)
    if not models:
        raise _wrong("the list is empty", "name a model, or leave it out to mean every model")
    return tuple(one_line(model) for model in models)


def _whole(low: int, high: int, mend: str = "write it in digits, without quotes") -> Check:
    def check(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise _wrong(f"{shown(value)} is not a whole number from {low} to {high}", mend)
        return value

    return check


def _truth(value: object) -> bool:
    if not isinstance(value, bool):
        raise _wrong(f"{shown(value)} is not true or false", "write true or false, without quotes")
    return value


def _choice(words: type[StrEnum]) -> Check:
    def check(value: object) -> StrEnum:
        if isinstance(value, str) and value in list(words):
            return words(value)
        near = nearest(value, words)
        mend = f"did you mean '{near}'?" if near else "write one of them, in double quotes"
        raise _wrong(f"{shown(value)} is not one of {', '.join(words)}", mend)

    return check


def _events(value: object) -> frozenset[object]:
    return frozenset(_choice(DueAfter)(each) for each in _texts(value))


def _interval(value: object) -> Interval:
    interval = Interval.parse(_text(value))
    if interval.count > (_MOST_MONTHS if interval.in_months else _MOST_MONTHS * MONTH_DAYS):
        raise _wrong(f"{shown(value)} is longer than 100 years", "write a shorter interval")
    return interval


def _civil_date(value: object) -> dt.date:
    if type(value) is dt.date:
        return value
    try:
        if isinstance(value, str) and _CIVIL_DATE.fullmatch(value):
            return dt.date.fromisoformat(value)
    except ValueError:
        pass  # a day the calendar does not have, as 2026-02-30: told below with all others
    raise _wrong(f"{shown(value)} is not a date", "write it as YYYY-MM-DD")


def _date(value: object) -> dt.date:
    on = _civil_date(value)
    if not FIRST_YEAR <= on.year <= LAST_YEAR:
        problem = f"{on} lies outside {FIRST_YEAR} to {LAST_YEAR}"
        raise _wrong(problem, "choose a day within those years")
    return on


def _end(table: Mapping[str, object], name: str) -> Decimal | None:
    value = table.get(name)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise _wrong(f"{name} {shown(value)} is not a number", "write it without quotes, as 2.0")
    if not (number := Decimal(value)).is_finite():
        raise _wrong(f"{name} {value} is no limit", "leave an open end out")
    return number


def _range(value: object) -> ReadingRange:
    if not isinstance(value, dict):
        mend = 'write it as { low = 2.0, high = 8.0, unit = "C" }'
        raise _wrong(f"{shown(value)} is not a range", mend)
    for name in value:
        if name not in ("low", "high", "unit"):
            raise unknown(name, "a range", ("low", "high", "unit"))
    low, high = _end(value, "low"), _end(value, "high")
    if low is None and high is None:
        raise _wrong("the range has no end", "give low, high or both")
    if low is not None and high is not None and low > high:
        raise _wrong(f"low {low} is above high {high}", "exchange them")
    if "unit" not in value:
        raise _wrong("the range has no unit", 'add the unit of the reading, as unit = "C"')
    return ReadingRange(low, high, one_line(value["unit"]))


def retention(value: object) -> Interval:
    """How long a kind's records are kept: years or months, two years at least."""
    text = _text(value)
    match = re.fullmatch(r"P(\d{1,4})([MY])", text, re.ASCII)
    if match is None:
        mend = 'write whole years or months in quotes, as "P5Y" or "P30M"'
        raise _wrong(f"{shown(value)} is not a retention", mend)
    months = int(match[1]) * (12 if match[2] == "Y" else 1)
    if months < LEAST_RETENTION.count:
        problem = f"{shown(value)} is less than two years"
        raise _wrong(problem, 'records are kept 2 years at least (42 CFR 493.1105(a)(3)): "P2Y"')
    if months > _MOST_MONTHS:
        raise _wrong(f"{shown(value)} is more than a hundred years", 'write "P100Y" or less')
    return Interval(months, True, text)


def nearest(name: object, known: Iterable[str]) -> str | None:
    """The known word that was probably meant, if any is near."""
    near = get_close_matches(str(name), [str(word) for word in known], n=1)
    return near[0] if near else None


def unknown(name: str, of: str, known: Iterable[str]) -> RuleError:
    """The refusal of a field that `of` does not have, naming the nearest it has."""
    near = nearest(name, known)
    mend = f"did you mean '{near}'?" if near else f"{of} has {', '.join(known)}"
    return _wrong(f"{shown(name)} is not a field of {of}", mend)


@dataclass(frozen=True, slots=True)
class Field:
    """What a field becomes in `Rule`, the check of its value, and the bases it may stand in."""

    attribute: str
    check: Check
    bases: tuple[Basis, ...] = tuple(Basis)


_DATED = (Basis.ANCHORED, Basis.FIXED)
BASIS_WORDS = {
    Basis.ANCHORED: "an anchored rule (every, no anchor)",
    Basis.FIXED: "a fixed rule (every and anchor)",
    Basis.CELL: "a cell rule (each)",
}
FIELDS = {
    "task": Field("task", short_name),
    "title": Field("title", one_line),
    "source": Field("source", _text),
    "each": Field("each", _choice(Each), (Basis.CELL,)),
    "every": Field("every", _interval, _DATED),
    "anchor": Field("anchor_on", _date, (Basis.FIXED,)),
    "early": Field("early", _whole(0, _MOST_DAYS), _DATED),
    "grace": Field("grace", _whole(0, _MOST_DAYS), _DATED),
    "roll": Field("roll", _choice(Roll), _DATED),
    "keep_anchor": Field("keep_anchor", _whole(0, _MOST_DAYS), (Basis.ANCHORED,)),
    "due_after": Field("due_after", _events, (Basis.ANCHORED,)),
    "first": Field("first", _choice(First), (Basis.ANCHORED,)),
    "times": Field("times", _whole(1, 100), (Basis.CELL,)),
    "from": Field("from_on", _date),
    "until": Field("until_on", _date),
    "models": Field("models", _models),
    "range": Field("range", _range),
    "stops_use": Field("stops_use", _truth),
    "vendor": Field("vendor", _truth),
    "minutes": Field("minutes", _whole(1, 10_000)),
    "fee": Field("fee_cents", _whole(0, 10**8, "write whole cents, as 8500 for 85.00")),
    "cautions": Field("cautions", _texts),
    "title_es": Field("title_es", one_line),
    "cautions_es": Field("cautions_es", _texts),
}
REQUIRED = {
    "task": 'add its short name, as task = "annual-service"',
    "title": "add what is to be done, in a few words",
    "source": 'add the law or guide, or source = "common practice, no source"',
}
