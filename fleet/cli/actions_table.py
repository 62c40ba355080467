"""How are corrective actions laid out for people? State by state, the pressing first."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from operator import attrgetter

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from fleet.cli.grids import command, fitted, grid, heading, printed
from fleet.cli.output import one_line
from fleet.services.action_rows import CLOSED, ActionRow
from notifications.digests.words import counted, county, day

__all__ = ["action_lines", "actions_table"]

_INDENT = 2


def actions_table(rows: Sequence[ActionRow]) -> str:
    """The table form of `actions`."""
    is_open = sum(row.state != CLOSED for row in rows)
    if not rows:
        return "No corrective action is open."
    parts: list[RenderableType] = [heading(f"{counted(is_open, 'corrective action')} open")]
    for state, some in groupby(rows, key=attrgetter("state")):
        of_state = list(some)
        parts += [Text(), heading(f"{state.capitalize()} ({len(of_state)})")]
        lines = [_columns(row) for row in of_state]
        widths = fitted(lines, folding=range(4))
        for row, line in zip(of_state, lines, strict=True):
            parts.append(grid([line], widths=widths))
            parts += action_lines(row)
    return printed(*parts)


def _columns(row: ActionRow) -> list[str]:
    place = ", ".join(filter(None, (row.site, county(row.county), row.region)))
    return [row.number, day(row.opened_on), place, row.task or ""]


def action_lines(row: ActionRow) -> list[RenderableType]:
    """What is told of one action below its first line."""
    told = [row.problem]
    if row.action:
        by = f" (by {row.responsible})" if row.responsible else ""
        told.append(f"Action: {row.action}{by}")
    if row.closed_on is not None and row.state == CLOSED:
        told.append(f"Closed on {day(row.closed_on)}: it worked, says {row.reviewed_by}.")
    elif row.effective == "no":
        told.append(f"It did not work, says {row.reviewed_by}.")
    words, _, run = (row.next or "").rpartition(": dueward ")
    if words:
        told.append(f"{words}:")
    parts: list[RenderableType] = [
        Padding(Text(one_line(text)), (0, 0, 0, _INDENT)) for text in told
    ]
    return [*parts, command(f"dueward {run}", _INDENT + 2)] if words else parts
