"""Where does the money go? A plan beside others, part by part: as SVG, and as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol

from fleet.pictures.columns import cut, padded
from fleet.pictures.drawing import Box, Group, Mark, Picture, Rect, Stroke, Words
from fleet.pictures.letters import fit, width
from fleet.pictures.palette import OKABE_ITO, PALE, SOFT, ink_on
from fleet.pictures.phrases import dollars
from fleet.pictures.svg import svg
from schedules.visits.told import Costs

__all__ = ["Priced", "money", "money_marks", "money_text"]

_PARTS = (
    ("miles", "M", "miles"),
    ("hours", "H", "hours driven"),
    ("trips", "T", "trips"),
    ("nights", "N", "nights away"),
    ("visits", "V", "visits"),
    ("lost_days", "L", "lost interval"),
    ("changes", "C", "changes"),
)
"""Field of Costs, its letter in a bar, what it is called. In the order they stand in a bar."""
_WIDTH, _MARGIN, _HEAD, _BAR, _ROW, _LABEL = 200.0, 6.0, 12.0, 7.0, 4.4, 34.0
_LETTERS = 7.5
_ROUNDED = "Each sum is rounded to the dollar by itself."
_UNLIKE = "Unplaced services are not paid for: compare the counts first."


class Priced(Protocol):
    """One plan's figures, as fleet.services.visits.answer.Compared has them."""

    @property
    def name(self) -> str:
        """What the plan is called."""

    @property
    def costs(self) -> Costs:
        """The parts of its money."""

    @property
    def miles(self) -> int:
        """Hundredths of a mile driven."""

    @property
    def late(self) -> int:
        """Needs served after their limit."""

    @property
    def unplaced(self) -> int:
        """Needs that are in no trip."""


def money(plans: Sequence[Priced], title: str = "Where the money goes") -> str:
    """Bars of the parts under each other, the plan first, and the sums in a table, as SVG."""
    marks, high = money_marks(plans, Rect(_MARGIN, _HEAD, _WIDTH - _MARGIN, 0))
    head = Words(x=_MARGIN, y=6.5, text=fit(title, _WIDTH - 12, 12), size=12, is_bold=True)
    told = "; ".join(f"{one.name}: {dollars(one.costs.total)}" for one in plans)
    return svg(Picture(_WIDTH, _HEAD + high + _MARGIN, title, told, (head, *marks)))


def money_marks(plans: Sequence[Priced], frame: Rect) -> tuple[tuple[Mark, ...], float]:
    """Bars and table from the top of a frame, and how high they are."""
    most = max((one.costs.total for one in plans), default=0) or 1
    y = frame.top
    marks: list[Mark] = []
    for one in plans:
        marks.append(_bar(one, frame, y, most))
        y += _BAR + 2.5
    table = list(_table(plans, frame, y + 3))
    rows = len(_rows(plans)) + 1
    y += 3 + rows * _ROW
    for note in _notes(plans):
        y += 3.4
        table.append(Words(x=frame.left, y=y, text=note, size=6.5, colour=SOFT))
    return (*marks, *table), y - frame.top + 2


def _bar(one: Priced, frame: Rect, top: float, most: int) -> Group:
    """Late and unplaced first, then the parts, each with its letter, then the sum."""
    name = fit(one.name, _LABEL - 2, _LETTERS, is_bold=True)
    counts = fit(f"{one.late:,} late, {one.unplaced:,} unplaced", _LABEL - 2, 6.5)
    marks: list[Mark] = [
        Words(x=frame.left, y=top + 3, text=name, size=_LETTERS, is_bold=True),
        Words(x=frame.left, y=top + 6.2, text=counts, size=6.5),
    ]
    room = frame.width - _LABEL - 22
    left = frame.left + _LABEL
    for field, letter, called in _PARTS:
        cents: int = getattr(one.costs, field)
        wide = room * cents / most
        if cents > 0:
            marks.append(_part(letter, f"{called}: {dollars(cents)}", left, top, wide))
        left += wide
    total = Words(
        x=left + 1.5, y=top + _BAR / 2 + 1, text=dollars(one.costs.total), size=8, is_bold=True
    )
    return Group("plan", f"{one.name}: {dollars(one.costs.total)}", (*marks, total))


def _part(letter: str, told: str, left: float, top: float, wide: float) -> Group:
    number = [part[1] for part in _PARTS].index(letter)
    colour = OKABE_ITO[number % len(OKABE_ITO)]
    box = Box(Rect(left, top, left + wide, top + _BAR), colour, Stroke(colour="#ffffff"))
    if width(letter, 7, is_bold=True) + 0.4 > wide:
        return Group("part", told, (box,))
    middle = box.place.middle
    text = Words(
        x=middle.x, y=middle.y + 0.9, text=letter, size=7, is_bold=True, align="middle",
        colour=ink_on(colour),
    )  # fmt: skip
    return Group("part", told, (box, text))


def _table(plans: Sequence[Priced], frame: Rect, top: float) -> Iterator[Mark]:
    """A row for what is late and unplaced, for each part, the sum and the miles."""
    wide = (frame.width - _LABEL - 11.5) / max(1, len(plans))
    rights = [frame.left + _LABEL + 10 + (n + 1) * wide for n in range(len(plans))]
    for one, right in zip(plans, rights, strict=True):
        name = fit(one.name, wide - 2, _LETTERS, is_bold=True)
        yield Words(x=right, y=top + 3, text=name, size=_LETTERS, is_bold=True, align="end")
    for turn, (letter, called, values) in enumerate(_rows(plans), start=1):
        upper = top + turn * _ROW
        if turn % 2:
            yield Box(Rect(frame.left, upper, frame.right, upper + _ROW), PALE)
        is_bold = called == "total"
        y = upper + 3.1
        yield Words(x=frame.left + 1, y=y, text=letter, size=_LETTERS, is_bold=True)
        yield Words(x=frame.left + 6, y=y, text=called, size=_LETTERS, is_bold=is_bold)
        for value, right in zip(values, rights, strict=True):
            yield Words(x=right, y=y, text=value, size=_LETTERS, is_bold=is_bold, align="end")


def _rows(plans: Sequence[Priced]) -> list[tuple[str, str, list[str]]]:
    """Letter, name and a text for each plan; parts that no plan pays for are left out."""
    rows = [
        ("", "late", [f"{one.late:,}" for one in plans]),
        ("", "unplaced", [f"{one.unplaced:,}" for one in plans]),
        ("", "total", [dollars(one.costs.total) for one in plans]),
    ]
    for field, letter, called in _PARTS:
        if any(getattr(one.costs, field) for one in plans):
            rows.append((letter, called, [dollars(getattr(one.costs, field)) for one in plans]))
    return [*rows, ("", "miles driven", [f"{(one.miles + 50) // 100:,}" for one in plans])]


def _notes(plans: Sequence[Priced]) -> list[str]:
    is_unlike = len({one.unplaced for one in plans}) > 1
    return [_ROUNDED, *([_UNLIKE] if is_unlike else [])]


def money_text(plans: Sequence[Priced], width: int = 80) -> str:
    """The same in lines of at most `width` columns: the table, then a bar of letters a plan."""
    names = max((len(called) for _, called, _ in _rows(plans)), default=0) + 2
    room = max(6, min(20, (width - names - 2) // max(1, len(plans)) - 2))
    lines = [" " * (names + 2) + "".join(f"  {_right(one.name, room)}" for one in plans)]
    for letter, called, values in _rows(plans):
        line = f"{letter or ' '} {called:<{names}}"
        lines.append(line + "".join(f"  {_right(value, room)}" for value in values))
    lines.append("")
    lines += [*_text_bars(plans, width), "", *_notes(plans)]
    return "".join(f"{cut(line, width).rstrip()}\n" for line in lines)


def _text_bars(plans: Sequence[Priced], width: int) -> Iterator[str]:
    most = max((one.costs.total for one in plans), default=0) or 1
    sums = max((len(dollars(one.costs.total)) for one in plans), default=0)
    label = min(18, max((len(one.name) for one in plans), default=0))
    room = width - label - sums - 2
    for one in plans:
        bar, spent = "", 0
        for field, letter, _ in _PARTS:
            spent += getattr(one.costs, field)
            bar += letter * (room * spent // most - len(bar))
        yield f"{padded(one.name, label)} {bar} {dollars(one.costs.total)}"


def _right(text: str, room: int) -> str:
    shown = padded(text, room)
    return " " * (len(shown) - len(shown.rstrip())) + shown.rstrip()
