"""Which texts and readings may stand in the record, from whatever door they come?

Files and commands ask the same rules, so that what one refuses cannot come in by the other.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = [
    "INITIALS_LENGTH",
    "KEY_LENGTH",
    "NAME_LENGTH",
    "PROSE_LENGTH",
    "WORD_LENGTH",
    "Wrong",
    "check_prose",
    "check_reading",
    "check_text",
    "shown",
    "shown_address",
]

INITIALS_LENGTH, WORD_LENGTH, NAME_LENGTH, KEY_LENGTH, PROSE_LENGTH = 20, 64, 200, 200, 2_000
"""The most characters of initials, a short name (site, task, property number), a long name, the key
of an entry, and a note or reason.
"""

# Unicode category Cc, the line and paragraph separators, the marks that turn text around, and the
# surrogates that stand for bytes of a command line that are not UTF-8.
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
_READING = re.compile(r"[+-]?[0-9]{1,15}(?:\.[0-9]{1,15})?")
_SHOWN_LENGTH = 60


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong with a text and how to mend it, in the words of `fleet.errors.Fault`."""

    problem: str
    mend: str


def shown(value: str) -> str:
    """Quote a value for a message: on one line, not too long, controls made visible."""
    cut = value if len(value) <= _SHOWN_LENGTH else value[: _SHOWN_LENGTH - 1] + "…"
    visible = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in cut)
    return f"'{visible}'"


def shown_address(text: str) -> str:
    """Quote what was given as the address of a database, without what may be a password."""
    if "://" in text:
        return shown(text.partition("://")[0] + "://…")
    return shown("…" if set(text) & set("@=?") else text)


def check_text(value: str, most: int) -> Wrong | None:
    """Say what is wrong with text on one line of at most so many characters; None: nothing."""
    if control := _CONTROL.search(value):
        return _unreadable(value, control[0])
    if len(value) > most:
        problem = f"{shown(value)} has {len(value):,} characters"
        return Wrong(problem, f"shorten it to at most {most:,}")
    return None


def check_prose(value: str, most: int) -> Wrong | None:
    """As check_text, for text that may run over several lines, each ended by a line feed."""
    for line in value.split("\n"):
        if control := _CONTROL.search(line):
            return _unreadable(line, control[0])
    return check_text(value.replace("\n", " "), most)


def _unreadable(value: str, control: str) -> Wrong:
    if "\ud800" <= control <= "\udfff":
        return Wrong(f"{shown(value)} is not UTF-8", "write it in UTF-8")
    problem = f"{shown(value)} holds the control character U+{ord(control):04X}"
    return Wrong(problem, "take it out; write plain text")


def check_reading(value: str) -> Wrong | None:
    """Say what is wrong with a plain decimal number in ASCII digits; None: nothing.

    It is kept as it was written; no exponent, underscore, blank, infinity or NaN.
    """
    if _READING.fullmatch(value):
        return None
    return Wrong(
        f"{shown(value)} is not a number", "write digits with a decimal point, as 4.5 or -20"
    )
