"""How is it told what can hurt in a task (design 8)? Under a heading, one a line."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from fleet.cli.grids import terminal_width
from fleet.cli.output import one_line

__all__ = ["cautions_text"]


def cautions_text(cautions: Sequence[str]) -> str:
    """The cautions as lines that fit the terminal; '' where there are none."""
    told = (
        textwrap.fill(
            one_line(caution),
            terminal_width(),
            initial_indent="* ",
            subsequent_indent="  ",
            break_on_hyphens=False,
        )
        for caution in cautions
    )
    return "\n".join(["Cautions", *told]) if cautions else ""
