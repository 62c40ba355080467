"""What did a program send? Read strictly: what is not known is refused, and all faults are told.

A value with a fault is read as an empty one; `check` raises before anybody uses it.
"""

from __future__ import annotations

import datetime as dt
import json
import re
import uuid
from collections.abc import Callable, Collection, Mapping
from enum import StrEnum
from typing import Any, Final, TypeVar

from flask import request

from fleet.domain.texts import Wrong, check_prose, check_text
from fleet.errors import BadInput, Fault
from fleet.web.api.problems import Refusal
from fleet.web.fields import one_count, one_day, one_month, one_of

__all__ = ["Given", "body", "query"]

Word = TypeVar("Word", bound=StrEnum)
Value = TypeVar("Value")
_UUID: Final = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.IGNORECASE | re.ASCII)
_MOST_JSON: Final = 64 * 1024


class Given:
    """The fields of a body, or the parameters of an address."""

    def __init__(self, values: Mapping[str, object], *names: str) -> None:
        self._values, self._faults = values, list[Fault]()
        for name in values:
            if name not in names:
                known = f"there are: {', '.join(names)}" if names else "there are none here"
                self._fault(name, f"'{name[:40]}' is not known here", known)

    def check(self) -> None:
        """Raise the faults that were found, if any were."""
        if self._faults:
            told = "; ".join(f"{fault.column}: {fault.problem}" for fault in self._faults[:3])
            raise Refusal("bad-input", told, faults=self._faults)

    def text(self, name: str, most: int, *, is_needed: bool = False, is_prose: bool = False) -> str:
        """A text of so many characters at most; '' where none is given."""
        value = self._text(name)
        if not value:
            if is_needed and isinstance(self._values.get(name, ""), str):
                self._fault(name, "it is missing or empty", "give it")
            return ""
        wrong = (check_prose if is_prose else check_text)(value, most)
        if wrong is not None:
            self.fault(name, wrong)
        return value

    def key(self, name: str, *, is_needed: bool = False) -> str:
        """A UUID in small letters; '' where none is given."""
        value = self.text(name, 36, is_needed=is_needed)
        if value and not _UUID.fullmatch(value):
            mend = "make one for each thing you send, as 6f1c1a54-9a43-4a53-8a0e-5b2c7d1f0d13"
            self._fault(name, "it is no UUID", mend)
            return ""
        return str(uuid.UUID(value)) if value else ""

    def day(self, name: str, usual: dt.date | None = None) -> dt.date:
        """A day; `usual` where none is given, and a fault where there is no usual one."""
        if usual is not None and name not in self._values:
            return usual
        return self._read(one_day, name) or dt.date.min

    def month(self, name: str, usual: dt.date) -> dt.date:
        """The first day of a month."""
        return (self._read(one_month, name) or usual) if name in self._values else usual

    def word(self, words: type[Word], name: str, *, is_needed: bool = False) -> Word | None:
        """One of some words; None where none is given, or another."""
        if name not in self._values and not is_needed:
            return None
        return self._read(lambda n, text: one_of(words, n, text), name)

    def choice(self, words: Collection[str], name: str) -> str:
        """One of some words; '' where none is given, or another."""
        value = self._text(name)
        if value in words or name not in self._values:
            return value
        self._fault(name, f"'{value[:40]}' is not known here", f"it is one of {', '.join(words)}")
        return ""

    def count(self, name: str, usual: int, least: int, most: int) -> int:
        """A whole number of an address within bounds."""
        if name not in self._values:
            return usual
        if not self._text(name):
            self._fault(name, "it is empty", f"give a whole number from {least} to {most}")
        return self._read(lambda n, text: one_count(n, text, usual, least, most), name) or 0

    def flag(self, name: str) -> bool:
        """True or false; false where it is not given."""
        value = self._values.get(name, False)
        if not isinstance(value, bool):
            self._fault(name, "it is neither true nor false", "write true or false, unquoted")
        return value is True

    def fault(self, name: str, wrong: Wrong) -> None:
        """Note what is wrong with a field."""
        self._fault(name, wrong.problem, wrong.mend)

    def _read(self, read: Callable[[str, str], Value], name: str) -> Value | None:
        value = self._text(name)
        if name in self._values and not isinstance(self._values[name], str):
            return None
        try:
            return read(name, value)
        except BadInput as error:
            self._faults += error.faults
            return None

    def _text(self, name: str) -> str:
        value = self._values.get(name, "")
        if isinstance(value, str):
            return value
        self._fault(name, "it is no text", 'write it in quotes: "..."')
        return ""

    def _fault(self, name: str, problem: str, mend: str) -> None:
        self._faults.append(Fault("request", None, name, problem, mend))


def query(*names: str) -> Given:
    """The parameters of the address; each may be given once."""
    given = Given(request.args.to_dict(), *names)
    for name, values in request.args.lists():
        if len(values) > 1:
            given.fault(name, Wrong("it is given more than once", "give it once"))
    return given


def body(*names: str, most: int = _MOST_JSON) -> Given:
    """The fields of a JSON object of so many bytes at most; nothing may stand in the address."""
    query().check()
    if request.mimetype != "application/json":
        raise Refusal("not-json", "Send the header 'Content-Type: application/json'.")
    request.max_content_length = most
    try:
        found: Any = json.loads(
            request.get_data(), parse_constant=_no_number, object_pairs_hook=_once
        )
    except (ValueError, RecursionError) as error:
        why = "it is nested too deeply" if isinstance(error, RecursionError) else str(error)[:200]
        raise Refusal("bad-input", f"The body is no JSON that can be read: {why}") from None
    if not isinstance(found, dict):
        raise Refusal("bad-input", "The body is no object: write {...}.")
    return Given(found, *names)


def _no_number(word: str) -> object:
    raise ValueError(f"{word} is no number")


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a field is given twice")
    return found
