"""The answer of `dueward chart`, what is in its folder, and charts that are not drawn.

Most of the time of a printing goes to fonts: where a test is not about pages, nothing is drawn.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from fleet.services.charts.facts import PrintedChart
from tests.fleet.cli.conftest import Dueward

__all__ = ["made", "names", "numbers_only"]


def made(dueward: Dueward, out: Path, *words: str) -> list[dict[str, Any]]:
    """The rows of the answer."""
    result = dueward("chart", *words, "--out", str(out), "--format", "json")
    assert result.exit_code == 0, result.stderr
    rows: list[dict[str, Any]] = json.loads(result.stdout)
    return rows


def names(folder: Path) -> list[str]:
    """Everything in a folder and below, hidden things too."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def numbers_only(charts: Sequence[PrintedChart], *_: object) -> bytes:
    """In the place of `fleet.charts.pdf.chart_pdf`: the numbers of the prints, a line each."""
    return "\n".join(one.print.number for one in charts).encode()
