"""The answer of `dueward chart`, and what is in its folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.fleet.cli.conftest import Dueward

__all__ = ["made", "names"]


def made(dueward: Dueward, out: Path, *words: str) -> list[dict[str, Any]]:
    """The rows of the answer."""
    result = dueward("chart", *words, "--out", str(out), "--format", "json")
    assert result.exit_code == 0, result.stderr
    rows: list[dict[str, Any]] = json.loads(result.stdout)
    return rows


def names(folder: Path) -> list[str]:
    """Everything in a folder and below, hidden things too."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))
