"""Where are the files of the invented demo fleet? (design section 6, `demo`)."""

from __future__ import annotations

import datetime as dt
from importlib.resources import files as _packaged
from importlib.resources.abc import Traversable

__all__ = ["files", "planted", "today"]


def today() -> dt.date:
    """The demo's today, from `today.txt`: the day after the last day of its record."""
    return dt.date.fromisoformat((_packaged("demo_data") / "today.txt").read_text().strip())


def files() -> Traversable:
    """The packaged folder of the demo's CSV files (design section 7), as `load` reads them."""
    return _packaged("demo_data") / "files"


def planted() -> Traversable:
    """The table of flaws that were put into the demo on purpose, for tests to find again."""
    return _packaged("demo_data") / "planted.csv"
