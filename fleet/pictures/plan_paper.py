"""What do the pages of a plan have in common? Their margins and their foot."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from fleet.files.paper import Paper

__all__ = ["FOOT", "MARGIN", "PlanPaper"]

MARGIN, FOOT = 10.0, 9.0
"""The white round a page, and the strip for its foot, in millimetres."""
_SIZE = 6.5


class PlanPaper(Paper):
    """A document with a foot on every page: its title, further words, the page's number."""

    def __init__(
        self,
        orientation: Literal["landscape", "portrait"],
        paper: Literal["letter", "a4"],
        made_at: dt.datetime,
        foot: str,
    ) -> None:
        super().__init__(orientation, paper, made_at)
        printed = f"printed {made_at.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC"
        self._foot = self.clean("  ·  ".join(part for part in (foot, printed) if part))

    @property
    def room(self) -> float:
        """How high a page is between its upper margin and its foot."""
        return float(self.h) - MARGIN - FOOT

    def header(self) -> None:
        """Write the foot, when a page begins."""
        y = self.h - FOOT + 2.5
        self.write_in(_SIZE)
        self.text(MARGIN, y, self.fit(self._foot, self.w - 2 * MARGIN - 32))
        self.set_xy(self.w - MARGIN - 30, y - 2.4)
        self.cell(30, 3, f"page {self.page_no()} of {{nb}}", align="R")
