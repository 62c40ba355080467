"""What was this reader told before, and what of it stands as it did? That is folded.

An *item* is what a line tells, by a name that lasts ('duty/NE-1/optics'); its *standing* is coarse
('due soon', 'overdue+7'), so that a day more is no news and a step more is. A line of which every
item was told in its present standing goes to one closing section, in a few words; nothing is lost.
What is left in full is new or has changed.
"""

from __future__ import annotations

import shlex
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from notifications.addresses import one_line
from notifications.digests.sections import ROWS, Line, Section, Tone, grouped_units
from notifications.languages import tr, trn

__all__ = [
    "AsBefore",
    "FoldedLine",
    "Told",
    "fold",
    "is_told",
    "item",
    "shown_items",
    "why_command",
]

Told = Mapping[str, str]
"""The standing in which each item was told; its names are those of `item`."""


@dataclass(frozen=True, slots=True)
class FoldedLine:
    """One line a group: which units, what about them, how they stand; where its cautions are."""

    units: str
    about: str
    how: str
    cautions_at: str
    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class AsBefore:
    """What was told before and stands as it did; `total` counts units × tasks."""

    title: str
    caption: str
    lines: tuple[FoldedLine, ...]
    total: int
    more: int = 0
    where: str = ""


def item(kind: str, *parts: str) -> str:
    """Name something told by a name that lasts, as 'duty/NE-1/optics' of its three parts."""
    return "/".join([kind, *(one_line(part) for part in parts)])


def why_command(property_number: str, task: str) -> str:
    """The command that shows all that is known of a unit's task, its cautions with it."""
    return " ".join(["dueward why", *(shlex.quote(one_line(w)) for w in (property_number, task))])


def is_told(items: Iterable[tuple[str, str]], told: Told | None) -> bool:
    """Say whether all of them were told before in the standing that they have now."""
    some = tuple(items)
    return bool(told) and bool(some) and all((told or {}).get(name) == how for name, how in some)


def fold(
    sections: Iterable[Section], told: Told | None, rows: int = ROWS
) -> tuple[list[Section], AsBefore | None]:
    """The sections without what was told before, and that in short; None where there is none.

    told: None where it is not known, and nothing changes; empty where this reader was never told
    anything, and then all is new and nothing has to say so. rows: so many folded lines at most.
    """
    if not told:
        return list(sections), None
    left: list[Section] = []
    folded: list[tuple[str, str, Line]] = []
    for section in sections:
        fresh = [_marked(line, told) for line in section.lines if not is_told(line.items, told)]
        folded += [
            (section.title, section.where, line)
            for line in section.lines
            if is_told(line.items, told)
        ]
        left.append(replace(section, lines=tuple(fresh)))
    return left, _as_before(folded, rows) if folded else None


def _marked(line: Line, told: Told) -> Line:
    """The line, called new where something in it was never told; a date does not say so here."""
    return replace(line, is_new=any(name not in told for name, _ in line.items))


def _as_before(folded: Sequence[tuple[str, str, Line]], rows: int) -> AsBefore:
    alike: dict[tuple[str, str, Tone], list[Line]] = defaultdict(list)
    for title, _, line in folded:
        alike[title, line.about, line.tone].append(line)
    lines = [_folded_line(title, some) for (title, _, _), some in alike.items()]
    total = sum(line.count for _, _, line in folded)
    shown = sum(line.count for some in list(alike.values())[:rows] for line in some)
    return AsBefore(
        title=tr("As before"),
        caption=_caption(any(line.cautions_at for line in lines)),
        lines=tuple(lines[:rows]),
        total=total,
        more=total - shown,
        where=folded[-1][1],
    )


def _caption(is_warned: bool) -> str:
    if is_warned:
        return tr(
            "Told before, and it still stands like this. The cautions are not told again: read them"
            " with the command beside a task before the work"
        )
    return tr("Told before, and it still stands like this")


def _folded_line(title: str, some: Sequence[Line]) -> FoldedLine:
    """One line for lines of one section about the same; the first of them is the most urgent."""
    units = [unit for line in some for unit in (line.units or (line.head,))]
    hows = list(dict.fromkeys(line.when for line in some))
    how = hows[0]
    if len(hows) > 1:
        how = trn(
            "{how}; one more of them: {title}",
            "{how}; {count} more of them: {title}",
            len(units) - len(some[0].units or (some[0].head,)),
            how=hows[0],
            title=title,
        )
    return FoldedLine(
        units=grouped_units(list(dict.fromkeys(units))),
        about=some[0].about.rstrip("."),
        how=how,
        cautions_at=next((line.cautions_at for line in some if line.cautions_at), ""),
        items=tuple(pair for line in some for pair in line.items),
    )


def shown_items(sections: Iterable[Section], as_before: AsBefore | None) -> dict[str, str]:
    """The items that the lines shown tell, and how each stands; what was cut off is not told."""
    pairs = [pair for section in sections for line in section.lines for pair in line.items]
    pairs += [pair for line in as_before.lines for pair in line.items] if as_before else []
    return dict(pairs)
