"""What does the text of one cell mean? A date, an instant, a number, an address, or a refusal.

Every function takes text without blanks around it and never the empty text.
"""

from __future__ import annotations

import datetime as dt
import difflib
import re
import zoneinfo
from collections.abc import Callable, Iterable
from enum import StrEnum
from functools import cache
from typing import TypeVar

from fleet.domain.texts import Wrong, check_prose, check_reading, check_text, shown
from notifications.languages import LANGUAGES
from schedules.rules import FIRST_YEAR, LAST_YEAR

__all__ = [
    "CellError",
    "choice",
    "civil_date",
    "coordinate",
    "email",
    "instant",
    "language",
    "month",
    "nearest",
    "open_days",
    "prose",
    "reading",
    "sha256",
    "text",
    "time_zone",
    "yes_or_no",
]

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTH = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])")
_SHA256 = re.compile(r"[0-9a-fA-F]{64}")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_INSTANT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[Tt ][0-9]{2}:[0-9]{2}\S*")
_LISTED_WORDS = 20
_Word = TypeVar("_Word", bound=StrEnum)


class CellError(Exception):
    """A cell that cannot be used: what is wrong and how to mend it, in the words of `Fault`."""

    def __init__(self, problem: str, mend: str) -> None:
        self.problem, self.mend = problem, mend
        super().__init__(f"{problem}; {mend}")


def nearest(word: str, words: Iterable[str]) -> str:
    """Ask whether the nearest known word was meant; where none is near, list them."""
    known = sorted(words)
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if close:
        return f"did you mean '{close[0]}'?"
    listed, more = ", ".join(known[:_LISTED_WORDS]), len(known) - _LISTED_WORDS
    return f"write one of: {listed}" + (f" or {more} others" if more > 0 else "")


_LINE_END = re.compile(r"\r\n?")


def _allowed(value: str, wrong: Wrong | None) -> str:
    if wrong is not None:
        raise CellError(wrong.problem, wrong.mend)
    return value


def text(longest: int) -> Callable[[str], str]:
    """Make a reader of text on one line, of at most so many characters."""
    return lambda value: _allowed(value, check_text(value, longest))


def prose(longest: int) -> Callable[[str], str]:
    """Make a reader of text that may run over several lines."""

    def read(value: str) -> str:
        lines = _LINE_END.sub("\n", value)
        return _allowed(lines, check_prose(lines, longest))

    return read


def _checked_year(value: str, year: int) -> None:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise CellError(
            f"{shown(value)} lies outside the years {FIRST_YEAR} to {LAST_YEAR}",
            "check the year"
            if year < FIRST_YEAR
            else "check the year; where there is no date yet, leave the cell empty",
        )


def civil_date(value: str) -> dt.date:
    """Read YYYY-MM-DD, from 1950 to 2099."""
    if not _DATE.fullmatch(value):
        raise CellError(f"{shown(value)} is not a date", "write it as YYYY-MM-DD")
    _checked_year(value, int(value[:4]))
    try:
        return dt.date.fromisoformat(value)
    except ValueError:
        raise CellError(
            f"{shown(value)} is no day of the calendar", "check its month and day (YYYY-MM-DD)"
        ) from None


def month(value: str) -> str:
    """Read a month, YYYY-MM."""
    if not _MONTH.fullmatch(value):
        raise CellError(f"{shown(value)} is not a month", "write it as YYYY-MM")
    _checked_year(value, int(value[:4]))
    return value


def sha256(value: str) -> str:
    """Read a SHA-256 in hexadecimal; the answer is in small letters."""
    if not _SHA256.fullmatch(value):
        mend = "write 64 hexadecimal digits, or leave the cell empty"
        raise CellError(f"{shown(value)} is not a SHA-256", mend)
    return value.lower()


def instant(value: str) -> dt.datetime:
    """Read an ISO 8601 date and time with its zone; the answer is in UTC."""
    mend = "write date, time and zone, as 2026-03-02T14:05:00Z or 2026-03-02T08:05:00-06:00"
    match = _INSTANT.fullmatch(value)
    if match is None:
        raise CellError(f"{shown(value)} is not an instant", mend)
    civil_date(match[1])
    try:
        at = dt.datetime.fromisoformat(value)
    except ValueError:
        raise CellError(f"{shown(value)} is not an instant", mend) from None
    if at.tzinfo is None:
        raise CellError(f"{shown(value)} has no time zone", mend)
    return at.astimezone(dt.UTC)


def open_days(value: str) -> str:
    """Read weekday names parted by blanks; the answer has them in the order of the week."""
    words = value.split()
    for word in words:
        if word not in _WEEKDAYS:
            raise CellError(
                f"'{word}' is no weekday" if word.isprintable() else f"{shown(word)} is no weekday",
                "write the open weekdays as Mon Tue Wed Thu Fri",
            )
    return " ".join(day for day in _WEEKDAYS if day in words)


def reading(value: str) -> str:
    """Read a decimal number, kept as it was written."""
    return _allowed(value, check_reading(value))


def coordinate(bound: int) -> Callable[[str], float]:
    """Make a reader of degrees between -bound and bound."""

    def read(value: str) -> float:
        degrees = float(reading(value))
        if abs(degrees) > bound:
            raise CellError(
                f"{shown(value)} lies outside -{bound} to {bound}", "write it in decimal degrees"
            )
        return degrees

    return read


def email(value: str) -> str:
    """Read an e-mail address (form only, no look-up); the domain comes back in small letters."""
    from email_validator import EmailNotValidError, validate_email

    try:
        checked = validate_email(value, check_deliverability=False, allow_smtputf8=False)
    except EmailNotValidError as wrong:
        raise CellError(
            f"{shown(value)} is not an e-mail address ({str(wrong).rstrip('.')})",
            "write one address, as lead@lab.example",
        ) from None
    return checked.normalized


@cache
def _zones() -> frozenset[str]:
    return frozenset(zoneinfo.available_timezones())


def time_zone(value: str) -> str:
    """Read the name of a zone of the IANA time zone database."""
    if value not in _zones():
        close = difflib.get_close_matches(value, sorted(_zones()), n=1, cutoff=0.6)
        mend = f"did you mean '{close[0]}'?" if close else "write a name such as America/Chicago"
        raise CellError(f"{shown(value)} is no time zone", mend)
    return value


def choice(words: type[_Word], what: str) -> Callable[[str], _Word]:
    """Make a reader of one word of a list."""

    def read(value: str) -> _Word:
        try:
            return words(value)
        except ValueError:
            raise CellError(f"{shown(value)} is no {what}", nearest(value, words)) from None

    return read


def language(value: str) -> str:
    """Read a language code."""
    if value not in LANGUAGES:
        raise CellError(
            f"{shown(value)} is no language of the program", f"write {' or '.join(LANGUAGES)}"
        )
    return value


def yes_or_no(value: str) -> bool:
    """Read yes or no."""
    if value not in ("yes", "no"):
        raise CellError(f"{shown(value)} is neither yes nor no", "write yes, or leave it empty")
    return value == "yes"
