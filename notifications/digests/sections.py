"""What does a digest look like before it is laid out? Headed lists of lines, cut to a length."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

from notifications.addresses import one_line
from notifications.languages import trn

__all__ = ["ROWS", "Line", "Section", "Tone", "capped", "cleaned", "grouped_units", "some_of"]

ROWS = 40
"""So many lines a digest holds in all: about 0.8 kB each, far from the size that mailboxes clip."""
_LEAST = 5
"""So many lines a section may show even after the sections above it have used up ROWS."""

_Value = TypeVar("_Value")


class Tone(StrEnum):
    """How a line's words are set; the words themselves say the state."""

    LATE = "late"
    SOON = "soon"
    CALM = "calm"


@dataclass(frozen=True, slots=True)
class Line:
    """One line: which unit or site, what about it, and how it stands."""

    head: str
    about: str
    when: str
    tone: Tone
    is_new: bool = False
    """It was not so in the digest before."""
    beside: str = ""
    """A second date; '' where one says it all."""
    count: int = 1
    """So many units × tasks stand in it."""
    caution: str = ""
    """What can hurt in it; '' where nothing is known."""
    other_cautions: str = ""
    """The command that shows the rest of them; '' where there is no more."""
    command: str = ""
    """The command that does it, to copy; '' where there is none."""
    items: tuple[tuple[str, str], ...] = ()
    """What it tells, by names that last, and how each stands; see `folding`."""
    units: tuple[str, ...] = ()
    """What `head` names, one by one; none where `head` is the one."""
    cautions_at: str = ""
    """The command that shows all its cautions; '' where it has none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A headed list; `total` counts units × tasks in all of it, `more` those not shown."""

    title: str
    caption: str
    columns: tuple[str, str]
    lines: tuple[Line, ...]
    where: str
    """Where all of it is to be seen: a page or a command."""
    total: int = 0
    more: int = 0


def capped(sections: Iterable[Section], rows: int = ROWS) -> list[Section]:
    """Cut sections, the most urgent first, to a number of lines in all; empty ones are dropped."""
    left, kept = rows, []
    for section in sections:
        shown = section.lines[: max(left, _LEAST)]
        left -= len(shown)
        if shown:
            total = sum(line.count for line in section.lines)
            more = total - sum(line.count for line in shown)
            kept.append(dataclasses.replace(section, lines=shown, total=total, more=more))
    return kept


def grouped_units(property_numbers: Sequence[str]) -> str:
    """Units in a line: the number of one, '3 units: A, B, C' of several."""
    if len(property_numbers) == 1:
        return property_numbers[0]
    return trn(
        "{count} unit: {names}",
        "{count} units: {names}",
        len(property_numbers),
        names=some_of(property_numbers),
    )


def some_of(property_numbers: Sequence[str]) -> str:
    """Units in a list, ROWS of them at most: 'A, B, C and 9 more'."""
    more = len(property_numbers) - ROWS
    shown = ", ".join(property_numbers[:ROWS])
    if more <= 0:
        return shown
    return trn("{names} and {count} more", "{names} and {count} more", more, names=shown)


def cleaned(value: _Value) -> _Value:
    """The same value with every text in it on one line and without control characters."""
    return _cleaned(value)  # type: ignore[return-value]


def _cleaned(value: object) -> object:
    if type(value) is str:
        return one_line(value)
    if isinstance(value, tuple):
        return tuple(_cleaned(part) for part in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return dataclasses.replace(
            value, **{f.name: _cleaned(getattr(value, f.name)) for f in dataclasses.fields(value)}
        )
    return value
