"""What do the tables from outside say? One reader of `tests/vectors`.

The first line of each table is `# source: …`: the law, the standard or the libraries it was
computed with; `tests/vectors/SOURCES.md` says more.
"""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path

__all__ = ["VECTORS", "day", "rows", "source"]

VECTORS = Path(__file__).parent / "vectors"
_SOURCE = "# source: "


def day(text: str) -> dt.date:
    """The date written YYYY-MM-DD."""
    return dt.date.fromisoformat(text)


def source(name: str) -> str:
    """Where a table comes from, in its own words."""
    first = _lines(name)[0]
    assert first.startswith(_SOURCE), f"{name}.csv does not say where it comes from"
    return first.removeprefix(_SOURCE)


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a table, each by its column names."""
    return list(csv.DictReader(line for line in _lines(name) if not line.startswith("#")))


def _lines(name: str) -> list[str]:
    return (VECTORS / f"{name}.csv").read_text(encoding="utf-8").splitlines()
