"""What is asked of `dueward plan`?"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from fleet.services.questions import Narrow

__all__ = ["PlanOptions"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanOptions:
    """The words of one command."""

    from_on: dt.date
    to_on: dt.date
    plan_file: tuple[Path, ...]
    narrow: Narrow
    seed: int
    iterations: int | None
    bound: bool
    stops: bool
    calendar: bool
    out: Path | None
    paper: Literal["letter", "a4"] | None
    replace: bool
    check: bool
    keep: bool
    executor: str

    @property
    def size(self) -> Literal["letter", "a4"]:
        """The paper, letter where none was named."""
        return self.paper or "letter"
