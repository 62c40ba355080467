"""What do the words of a form or of an address mean? Read strictly, with how to mend each."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from enum import StrEnum
from typing import Final, TypeVar

from fleet.errors import BadInput, Fault
from schedules.rules import FIRST_YEAR, LAST_YEAR

__all__ = ["at_a_form", "one_count", "one_day", "one_instant", "one_month", "one_of"]

Word = TypeVar("Word", bound=StrEnum)


def one_day(field: str, text: str) -> dt.date:
    """A day, written as 2026-11-25."""
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
        raise _refused(field, f"'{text}' is not a day" if text else "no day is given", _DAY)
    try:
        on = dt.date.fromisoformat(text)
    except ValueError:
        raise _refused(field, f"{text} is no day of the calendar", _DAY) from None
    if not FIRST_YEAR <= on.year <= LAST_YEAR:
        mend = f"give a day from {FIRST_YEAR} to {LAST_YEAR}"
        raise _refused(field, f"{text} is out of reach", mend)
    return on


_DAY = "write it as 2026-11-25"


def one_month(field: str, text: str) -> dt.date:
    """The first day of a month, written as 2026-11."""
    return one_day(field, f"{text}-01" if re.fullmatch(r"\d{4}-\d{2}", text, re.ASCII) else text)


def one_instant(field: str, text: str) -> dt.datetime | None:
    """An instant with its zone; None where none is given."""
    if not text:
        return None
    try:
        at = dt.datetime.fromisoformat(text)
    except ValueError:
        raise _refused(field, f"'{text}' is not an instant", _INSTANT) from None
    if at.tzinfo is None or not FIRST_YEAR <= at.year <= LAST_YEAR:
        raise _refused(field, f"'{text}' is not an instant", _INSTANT)
    return at.astimezone(dt.UTC)


_INSTANT = "write it as 2026-11-25T14:00:00Z"


def one_of(words: type[Word], field: str, text: str) -> Word:
    """One of some words."""
    try:
        return words(text)
    except ValueError:
        known = ", ".join(word.value for word in words)
        raise _refused(field, f"'{text}' is not known here", f"it is one of {known}") from None


def one_count(field: str, text: str, default: int, least: int, most: int) -> int:
    """A whole number within bounds; the default where none is given."""
    if not text:
        return default
    if not re.fullmatch(r"\d{1,9}", text, re.ASCII) or not least <= int(text) <= most:
        mend = f"give a whole number from {least} to {most}"
        raise _refused(field, f"'{text}' cannot be used", mend)
    return int(text)


_COMMAND: Final = "dueward "
_OPTION: Final = re.compile(r"(?: with|:) --[a-z-]+(?: [A-Z]+)?")


def at_a_form(fault: Fault, fields: Mapping[str, str] | None = None) -> Fault:
    """A fault of a service as a form tells of it: at its field, without advice for a terminal."""
    name = (fault.column or "").lstrip("-")
    mend = fault.mend.partition(f": {_COMMAND}")[0]
    mend = "correct it and send it again" if _COMMAND in mend else mend
    at = (fields or {}).get(name, name.replace("-", "_"))
    return Fault(fault.file, fault.row, at, fault.problem, _OPTION.sub("", mend))


def _refused(field: str, problem: str, mend: str) -> BadInput:
    return BadInput([Fault("form", None, field, problem, mend)])
