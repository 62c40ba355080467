"""How are rows laid out for people? In columns as wide as the terminal allows, without rules."""

from __future__ import annotations

import io
import os
import shutil
import sys
from collections.abc import Iterable, Mapping, Sequence

from rich.cells import cell_len
from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from fleet.cli.output import Value, one_line

__all__ = ["command", "counts_grid", "fitted", "grid", "heading", "printed", "terminal_width"]

_GAP = 2
_LEAST = 8


def terminal_width() -> int:
    """The columns of the terminal (or COLUMNS); 80 where there is none."""
    return max(40, shutil.get_terminal_size().columns)


def printed(*parts: RenderableType) -> str:
    """Lay parts out as text; bold only on a terminal, and not with NO_COLOR."""
    file = io.StringIO()
    console = Console(
        file=file,
        width=terminal_width(),
        force_terminal=sys.stdout.isatty() and not os.environ.get("NO_COLOR"),
        highlight=False,
        emoji=False,
        markup=False,
    )
    for part in parts:
        console.print(part, soft_wrap=isinstance(part, Text) and bool(part.no_wrap))
    return "".join(f"{line.rstrip()}\n" for line in file.getvalue().splitlines())


def heading(text: str) -> Text:
    """A line that stands above others."""
    return Text(one_line(text), style="bold")


def command(text: str, indent: int) -> Text:
    """A command to copy, on a line of its own, which is never folded."""
    return Text(" " * indent + one_line(text), no_wrap=True)


def grid(
    rows: Sequence[Sequence[Value]],
    headings: Sequence[str] | None = None,
    widths: Sequence[int | None] | None = None,
    cut: int | None = None,
) -> Table:
    """Rows in columns; a text wider than its column is folded, or cut short in the column `cut`.

    Under headings, counts stand to the right and the first column is kept whole.
    """
    table = Table(box=None, show_header=bool(headings), pad_edge=False, padding=(0, _GAP, 0, 0))
    for place, column in enumerate(zip(*rows, strict=True)):
        is_count = headings is not None and all(type(value) is int for value in column)
        table.add_column(
            headings[place] if headings else "",
            justify="right" if is_count else "left",
            overflow="ellipsis" if place == cut else "fold",
            no_wrap=place == cut or (place == 0 and bool(headings)),
            width=widths[place] if widths else None,
        )
    for row in rows:
        table.add_row(*(Text(_words(value)) for value in row))
    return table


def _words(value: Value) -> str:
    """A value as people read it; what would move the cursor is taken out."""
    if value is None:
        return ""
    return one_line(f"{value:,}" if type(value) is int else str(value))


def fitted(rows: Sequence[Sequence[str]], folding: Iterable[int]) -> list[int]:
    """Column widths by which all rows fit the terminal; only the `folding` columns give way."""
    widths = [max(map(cell_len, column)) for column in zip(*rows, strict=True)]
    folding = [place for place in folding if place < len(widths)]
    while widths and sum(widths) + _GAP * len(widths) > terminal_width():
        widest = max(folding, key=lambda place: widths[place])
        if widths[widest] <= _LEAST:
            break
        widths[widest] -= 1
    return widths


_NOT_IN_USE = ("out_of_service", "not_in_service_yet", "retired")


def counts_grid(groups: Sequence[Mapping[str, str | int | None]], by: str) -> Table:
    """The groups of a roll-up, what is owed first; units not in use are counted together."""
    headings = (by, "units", "overdue", "due", "done", "upcoming", "not in use", "past due by")
    rows = [
        (
            *(group[name] for name in ("group", "units", "overdue", "due", "done", "upcoming")),
            sum(int(group[name] or 0) for name in _NOT_IN_USE),
            _days(group["longest_days_past_due"]),
        )
        for group in groups
    ]
    return grid(rows, headings)


def _days(count: str | int | None) -> str:
    return "" if count is None else f"{count:,} days"
