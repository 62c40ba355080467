"""What does a cell of a chart say to someone who cannot see it, and what is shown of it?

On paper a cell is a letter, a stroke or nothing at all. Here each says in words what it is; what is
shown beside them is as short as on paper.
"""

from __future__ import annotations

import calendar
import datetime as dt
import re
from collections.abc import Sequence
from typing import NamedTuple

from fleet.charts.words import LETTERS
from fleet.services.charts.facts import NOT_ASKED, OPEN, OVER, Face, Note, RowRole

__all__ = ["VOID", "CellWords", "day_cell", "period_cell"]

VOID = "v"
"""The style of a cell whose days were over and for which the record holds nothing."""
_TICK = "t"
"""The style of a done cell that shows a tick; one that shows a text has none."""
_DONE = "d"
_MARKS = {
    _DONE: "done",
    "u": "not in use",
    "f": "ink seen on paper",
    "e": "explained afterwards",
}
_WEEKDAY, _HOLIDAY, _CLOSURE = "W", "H", "C"
_READING = re.compile(r"[-+]?\d+(?:[.,]\d+)?")


class CellWords(NamedTuple):
    """style: the letter by which it is styled, '' where it needs none; said: in words, not shown in
    cells of days; shown: what follows them, both shown and said, or ''.
    """

    style: str
    said: str
    shown: str = ""


def day_cell(
    face: Face, role: RowRole, on: dt.date, notes: Sequence[Note], *, is_free: bool
) -> CellWords:
    """The cell of a day; notes: those of its month; is_free: it is filled only if done then."""
    if face.sign == _WEEKDAY:
        return CellWords(_WEEKDAY, calendar.day_name[on.weekday()])
    if role is RowRole.INITIALS and face.sign in _MARKS:
        return _initials(face)
    if is_free and face.sign in (OPEN, OVER):
        return CellWords("", "only if done")
    return _cell(face, _words(face.sign, notes, on.day, on.day))


def period_cell(face: Face, notes: Sequence[Note], first: int, last: int) -> CellWords:
    """The cell of a week or a longer period; notes: of the month whose days first to last count."""
    if face.sign == _WEEKDAY:
        return CellWords(_WEEKDAY, "closed on all its days")
    return _cell(face, _words(face.sign, notes, first, last))


def _cell(face: Face, reason: str) -> CellWords:
    """A cell by its face; reason: what to say where the sign is of a day without a cell."""
    sign, text = face
    if sign == OPEN:
        return CellWords("", "open")
    if sign == OVER:
        return CellWords(VOID, "over, nothing recorded")
    if sign not in _MARKS:
        return CellWords(sign, reason)
    if text in ("", "✓"):
        return CellWords(_TICK if sign == _DONE else sign, _MARKS[sign])
    reading = "reading " if _READING.fullmatch(text) else ""
    return CellWords("" if sign == _DONE else sign, f"{_MARKS[sign]}, {reading}", text)


def _initials(face: Face) -> CellWords:
    if face.text in ("", "✓"):
        return CellWords(VOID, "no initials")
    return CellWords("", "initials ", face.text)


def _words(sign: str, notes: Sequence[Note], first: int, last: int) -> str:
    """Why nothing is expected on some days of a month, with the name of what it is."""
    own = (note for note in notes if note.sign == sign)
    name = next((note.words for note in own if note.first <= last and first <= note.last), "")
    if sign in (_HOLIDAY, _CLOSURE):
        return f"closed: {name or LETTERS[sign]}"
    cause = LETTERS[NOT_ASKED if sign not in LETTERS else sign]
    return f"{cause}: {name}" if name else cause
