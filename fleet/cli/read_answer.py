"""How is it told what scans of charts say: a row a cell, or for people the empty days by task?"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.console import RenderableType

from fleet.cli.grids import grid, heading, printed
from fleet.cli.output import Value
from fleet.desk.scans import ReadPage
from fleet.domain.scans import Verdict
from fleet.services.charts.facts import RowRole
from fleet.services.scans.accuracy import Accuracy, CellName, cell_name, limits
from fleet.services.scans.read_cells import ReadCell, Standing
from notifications.digests.words import counted

__all__ = [
    "ACCURACY_COLUMNS",
    "COLUMNS",
    "NOT_READ",
    "accuracy_rows",
    "accuracy_table",
    "answer_rows",
    "answer_table",
    "is_told",
    "notes_on",
    "verdicts_of",
]

COLUMNS = [
    "file",
    "sheet",
    "unit",
    "site",
    "year",
    "page",
    "task",
    "turn",
    "date",
    "to",
    "verdict",
    "confidence",
    "reason",
    "record",
]
NOT_READ = "not read"
"""The verdict of a page that cannot be trusted; its row has no task and no date."""
ACCURACY_COLUMNS = ["paper", "cells", "read", "count", "share_low", "share_high"]
_ONE_DAY = dt.timedelta(days=1)


def answer_rows(pages: Sequence[ReadPage], verdict: str | None = None) -> Iterator[list[Value]]:
    """A row a cell, and one for each page that could not be read; verdict: only those cells.

    unit: the property number; date and to: first and last day of the cell; record: whether a mark
    is asked for by the record today, or there is one already.
    """
    for page in pages:
        known = page.print
        whose: list[Value] = [page.file.name, page.sheet]
        whose += [known.property_number, known.site, known.year] if known else [None, None, None]
        whose.append(page.read.page or None)
        if page.read.problem:
            yield [*whose, None, None, None, None, NOT_READ, None, page.read.problem, None]
        for one in page.cells:
            if verdict in (None, one.verdict.value):
                yield [*whose, *_of_cell(one)]


def _of_cell(one: ReadCell) -> list[Value]:
    days: list[Value] = [one.from_on, one.to_on]
    said: list[Value] = [one.verdict.value, one.confidence, one.reason or None]
    return [one.task, one.turn, *days, *said, one.standing.value]


def notes_on(pages: Sequence[ReadPage], today: dt.date) -> Iterator[str]:
    """What to know of the pages before their cells: other years, pages sent twice, warnings."""
    seen: dict[tuple[str, int], str] = {}
    for page in pages:
        place = f"{page.file.name}, page {page.sheet}"
        for warning in page.read.warnings:
            yield f"{place}: {warning}"
        if page.print is None or page.read.problem:
            continue
        key = page.print.number, page.read.page
        if key in seen:
            yield f"{place}: the same page of the same chart as {seen[key]}"
        seen.setdefault(key, place)
        if page.print.year != today.year:
            yield f"{place}: it is the chart of {page.print.year}"


def answer_table(pages: Sequence[ReadPage]) -> str:
    """The table form: page by page what is empty, and what a person must look at."""
    if not pages:
        return "There is no file in it."
    counts = Counter(cell.verdict for page in pages for cell in page.cells if is_told(cell))
    unread = sum(bool(page.read.problem) for page in pages)
    told = [
        f"{counted(len(pages) - unread, 'page')} read",
        f"{counted(counts[Verdict.BLANK], 'empty cell')}",
        f"{counts[Verdict.UNCERTAIN]:,} to look at",
    ]
    told += [f"{counted(unread, 'page')} not read"] if unread else []
    parts: list[RenderableType] = [heading(", ".join(told))]
    for page in pages:
        parts += ["", *_of_page(page)]
    return printed(*parts)


def is_told(cell: ReadCell) -> bool:
    """Empty cells are told but those of days to come, and of rows that are filled only on the day a
    dated duty is done.
    """
    may_be_empty = cell.role is RowRole.ON_DAY or cell.standing is Standing.TO_COME
    return cell.verdict is not Verdict.BLANK or not may_be_empty


def _of_page(page: ReadPage) -> Iterator[RenderableType]:
    place = f"{page.file.name}, page {page.sheet}"
    if page.print is None or page.read.problem:
        yield heading(f"{place}: not read")
        yield f"  {page.read.problem}"
        return
    known = page.print
    whose = f"{known.property_number} at {known.site}, {known.year}, page {page.read.page}"
    yield heading(f"{place}: {whose}")
    lines = [
        [word, title, ", ".join(_spans(cells)), reason]
        for verdict, word in ((Verdict.BLANK, "empty"), (Verdict.UNCERTAIN, "look at"))
        for (title, reason), cells in _grouped(page.cells, verdict)
    ]
    marked = sum(one.verdict is Verdict.MARKED for one in page.cells)
    if lines:
        yield grid(lines)
    if page.cells:
        yield f"  {counted(marked, 'cell')} marked" + ("" if lines else ", none empty")
    else:
        yield "  no cell of it was printed open"


def _grouped(
    cells: Sequence[ReadCell], verdict: Verdict
) -> Iterator[tuple[tuple[str, str], list[ReadCell]]]:
    """The cells of a verdict by row and reason, in the order of the page."""
    own = [one for one in cells if one.verdict is verdict and is_told(one)]
    own.sort(key=lambda one: (one.row, one.reason, one.slot))
    for (_, title, turn, reason), some in groupby(
        own, key=lambda one: (one.row, one.title, one.turn, one.reason)
    ):
        yield (title if turn == 1 else f"{title} ({turn})", reason), list(some)


def _spans(cells: Sequence[ReadCell]) -> Iterator[str]:
    """Days in a row as one span, in words: 3 Mar, 5 to 9 Mar."""
    spans: list[tuple[dt.date, dt.date]] = []
    for one in cells:
        if spans and one.from_on == spans[-1][1] + _ONE_DAY:
            spans[-1] = spans[-1][0], one.to_on
        else:
            spans.append((one.from_on, one.to_on))
    for first, last in spans:
        if first == last:
            yield f"{first.day} {first:%b}"
        elif first.month == last.month:
            yield f"{first.day} to {last.day} {last:%b}"
        else:
            yield f"{first.day} {first:%b} to {last.day} {last:%b}"


def verdicts_of(pages: Sequence[ReadPage]) -> dict[CellName, Verdict]:
    """What was read of each cell; of a page that came twice, the last."""
    return {
        cell_name(page.print.property_number, one): one.verdict
        for page in pages
        if page.print is not None
        for one in page.cells
    }


def accuracy_rows(found: Accuracy) -> Iterator[list[Value]]:
    """A row for each answer of a person and each verdict, with limits of its share at 95 %."""
    for true in (Verdict.BLANK, Verdict.MARKED):
        for read in Verdict:
            count, of = found.read_as(true, read), found.said(true)
            low, high = limits(count, of)
            yield [true.value, of, read.value, count, round(low, 6), round(high, 6)]


def accuracy_table(found: Accuracy) -> str:
    """How often the reading was right, and which cells it got wrong."""
    lines = [
        [
            f"{true} on paper",
            f"read as {read}",
            f"{count:,} of {of:,}",
            f"{100 * low:.3f} to {100 * high:.3f} %" if of else "",
        ]
        for true, of, read, count, low, high in accuracy_rows(found)
        if isinstance(of, int) and isinstance(low, float) and isinstance(high, float)
    ]
    parts: list[RenderableType] = [heading("What was read, against what a person saw"), grid(lines)]
    parts += ["", "The last column: the share may lie there (95 %), were cells independent."]
    for told, names in (("Read wrong", found.wrong), ("Not read", found.unread)):
        if names:
            parts += ["", heading(f"{told}: {counted(len(names), 'cell')}")]
            parts.append(grid([[unit, task, str(turn), on] for unit, task, turn, on in names[:50]]))
    return printed(*parts)
