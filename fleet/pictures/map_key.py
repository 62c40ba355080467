"""What do the lines of a map mean? A row for each trip."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from fleet.pictures.drawing import Group, Mark, Path, Point, Rect, Stroke, Words
from fleet.pictures.letters import fit
from fleet.pictures.palette import line_of
from fleet.pictures.phrases import span_text, whole_miles
from fleet.pictures.plan_words import Numbered
from notifications.digests.words import counted

__all__ = ["KEY_WIDTH", "ROW", "key_height", "key_marks", "strokes_of"]

ROW = 3.7
KEY_WIDTH = 96.0
"""A row's height, and the width of a key beside its map, in millimetres."""
_SIZE, _SAMPLE, _NUMBER, _COLUMN = 6.5, 9.0, 6.0, 80.0


def strokes_of(trips: Sequence[Numbered], width: float = 0.55) -> dict[int, Stroke]:
    """A stroke for each trip, by number; those of one map differ, up to 28 of them."""
    return {one.number: line_of(turn, width) for turn, one in enumerate(trips)}


def key_height(rows: int, room: float) -> float:
    """How high a key of so many rows is in a width."""
    return math.ceil(rows / _columns(room)) * ROW


def key_marks(
    trips: Sequence[Numbered], strokes: Mapping[int, Stroke], frame: Rect
) -> tuple[Mark, ...]:
    """A row for each trip, column by column, from the top of a frame."""
    columns = _columns(frame.width)
    column_rows = max(1, math.ceil(len(trips) / columns))
    made = []
    for turn, one in enumerate(trips):
        column, line = divmod(turn, column_rows)
        left = frame.left + column * frame.width / columns
        at = Point(left, frame.top + line * ROW)
        made.append(_row(one, strokes[one.number], at, frame.width / columns))
    return tuple(made)


def _row(one: Numbered, stroke: Stroke, at: Point, room: float) -> Group:
    """Its stroke and number; days, technician, visits, services, miles."""
    y, base = at.y + ROW / 2, at.y + ROW / 2 + 0.8
    text = (
        f"{span_text(one.trip.starts_on, one.trip.ends_on)} · {one.trip.technician} · "
        f"{counted(len(one.trip.visits), 'visit')}, {counted(one.services, 'service')}, "
        f"{whole_miles(one.trip.miles)}"
    )
    sample = Path((Point(at.x, y), Point(at.x + _SAMPLE, y)), stroke)
    x = at.x + _SAMPLE + 1.5
    name = Words(x=x, y=base, text=str(one.number), size=_SIZE, is_bold=True)
    x += _NUMBER
    told = Words(x=x, y=base, text=fit(text, at.x + room - x - 2, _SIZE), size=_SIZE)
    return Group("key", f"Trip {one.number}: {text}", (sample, name, told))


def _columns(room: float) -> int:
    return max(1, int(room // _COLUMN))
