"""Which fields does a plan file have, what may each hold, and what is taken where one is left out?

A check answers the value as `fleet.domain.plan_file` wants it, or raises CellError.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, Final, NamedTuple

from fleet.domain.texts import NAME_LENGTH, WORD_LENGTH, check_text, shown
from fleet.files.cells import CellError, civil_date, email, open_days, time_zone
from fleet.files.places import country_code, subdivision_code

__all__ = ["AREA", "DEPOT", "MONEY", "REQUIRED", "ROADS", "TECHNICIAN", "WINDOW", "Field"]

Check = Callable[[object], Any]
REQUIRED: Final = object()
"""The default of a field that must be there."""
_MOST_CENTS: Final = 10**8


class Field(NamedTuple):
    """The check of a value, what is taken where it is left out, and how it is written."""

    check: Check
    default: object
    example: str


def _told(value: object) -> str:
    """A value as a message shows it."""
    if isinstance(value, str):
        return shown(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    return str(value)


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise CellError(f"{_told(value)} is not text", "put it in double quotes")
    if not (text := value.strip()):
        raise CellError("the text is empty", "write some words between the quotes")
    return text


def _words(longest: int) -> Check:
    def check(value: object) -> str:
        text = _text(value)
        if wrong := check_text(text, longest):
            raise CellError(wrong.problem, wrong.mend)
        return text

    return check


def _whole(low: int, high: int, mend: str = "write it in digits, without quotes") -> Check:
    def check(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise CellError(f"{_told(value)} is not a whole number from {low} to {high:,}", mend)
        return value

    return check


_cents = _whole(0, _MOST_CENTS, "write whole cents, without quotes, as 70 for $0.70")


def _number(low: float, high: float) -> Check:
    def check(value: object) -> float:
        is_number = isinstance(value, int | Decimal) and not isinstance(value, bool)
        if not is_number or not low <= value <= high:  # type: ignore[operator]
            problem = f"{_told(value)} is not a number from {low:g} to {high:g}"
            raise CellError(problem, "write it in digits, without quotes, as 40.78")
        return float(value)  # type: ignore[arg-type]

    return check


def _clock(value: object) -> dt.time:
    try:
        at = value if isinstance(value, dt.time) else dt.time.fromisoformat(_text(value))
    except ValueError:
        raise CellError(f"{_told(value)} is no time of day", 'write it as "08:00"') from None
    if at.second or at.microsecond or at.tzinfo:
        raise CellError(f"{at} is no whole minute", 'write it as "08:00"')
    return at


def _day(value: object) -> dt.date:
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return civil_date(value.isoformat())
    if not isinstance(value, str):
        raise CellError(f"{_told(value)} is not a date", "write it as 2027-03-15")
    return civil_date(value.strip())


def _days_off(value: object) -> tuple[tuple[dt.date, dt.date], ...]:
    mend = "write dates and spans of them, as [2027-03-15, [2027-07-05, 2027-07-16]]"
    if not isinstance(value, list):
        raise CellError(f"{_told(value)} is not a list", mend)
    found = []
    for one in value:
        days = one if isinstance(one, list) else [one, one]
        if len(days) != 2:
            raise CellError(f"a span of {len(days)} dates has no first and last day", mend)
        from_on, to_on = map(_day, days)
        if to_on < from_on:
            raise CellError(f"{to_on} is before {from_on}", "exchange the two days of the span")
        found.append((from_on, to_on))
    return tuple(found)


def _kinds(value: object) -> tuple[str, ...]:
    if not isinstance(value, list) or not value:
        mend = 'write kinds of the rule book, as ["microscope"], or leave it out to mean all'
        raise CellError(f"{_told(value) if value else 'an empty list'} names no kind", mend)
    return tuple(_text(one) for one in value)


def _holidays(value: object) -> tuple[str, str]:
    mend = 'write { country = "US", subdivision = "NE" }'
    if not isinstance(value, dict) or not set(value) <= {"country", "subdivision"}:
        raise CellError(f"{_told(value)} with other names is no place", mend)
    if "country" not in value:
        raise CellError("no country is named", mend)
    country = country_code(_text(value["country"]))
    of = value.get("subdivision")
    return country, "" if of is None else subdivision_code(country, _text(of))


def _zone(value: object) -> str:
    return time_zone(_text(value))


def _weekly(value: object) -> str:
    return open_days(_text(value))


def _email(value: object) -> str:
    return email(_text(value))


_name, _word = _words(NAME_LENGTH), _words(WORD_LENGTH)
DEPOT: Final[Mapping[str, Field]] = {
    "name": Field(_word, REQUIRED, 'name = "Lancaster depot"'),
    "latitude": Field(_number(-90, 90), REQUIRED, "latitude = 40.7837"),
    "longitude": Field(_number(-180, 180), REQUIRED, "longitude = -96.6875"),
    "time_zone": Field(_zone, REQUIRED, 'time_zone = "America/Chicago"'),
}
TECHNICIAN: Final[Mapping[str, Field]] = {
    "name": Field(_name, REQUIRED, 'name = "Rowan Ashdell"'),
    "vendor": Field(_name, REQUIRED, 'vendor = "Ovandel Service"'),
    "depot": Field(_word, REQUIRED, 'depot = "Lancaster depot"'),
    "open_days": Field(_weekly, "Mon Tue Wed Thu Fri", 'open_days = "Mon Tue Wed Thu Fri"'),
    "day_minutes": Field(_whole(30, 1440), 480, "day_minutes = 480"),
    "begins_at": Field(_clock, dt.time(8), 'begins_at = "08:00"'),
    "max_nights": Field(_whole(0, 6), 4, "max_nights = 4"),
    "kinds": Field(_kinds, None, 'kinds = ["microscope"]'),
    "days_off": Field(_days_off, (), "days_off = [2027-03-15]"),
    "email": Field(_email, "", 'email = "rowan@ovandel.example"'),
    "holidays": Field(_holidays, None, 'holidays = { country = "US", subdivision = "NE" }'),
}
ROADS: Final[Mapping[str, Field]] = {
    "road_factor": Field(_number(1, 5), 1.4, "road_factor = 1.4"),
    "miles_an_hour": Field(_number(1, 120), 55.0, "miles_an_hour = 55"),
    "table": Field(_text, None, 'table = "roads.csv"'),
}
MONEY: Final[Mapping[str, Field]] = {
    "mile": Field(_cents, REQUIRED, "mile = 70"),
    "hour": Field(_cents, REQUIRED, "hour = 9500"),
    "trip": Field(_cents, REQUIRED, "trip = 15000"),
    "night": Field(_cents, REQUIRED, "night = 14000"),
    "visit": Field(_cents, REQUIRED, "visit = 4000"),
    "change": Field(_cents, 0, "change = 2500"),
    "lost_day": Field(_cents, None, "lost_day = 100"),
}
AREA: Final[Mapping[str, Field]] = {
    "country": Field(lambda value: country_code(_text(value)), None, 'country = "US"'),
    "subdivision": Field(_text, None, 'subdivision = "NE"'),
}
WINDOW: Final[Mapping[str, Field]] = {
    "catch_up_days": Field(_whole(0, 366), 28, "catch_up_days = 28"),
}
