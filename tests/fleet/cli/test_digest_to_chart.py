"""Can what a digest asks for be printed by copying its command?"""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from tests.fleet.cli.conftest import Dueward

DAY = ("--on", "2026-12-07")


def _commands(loaded: Dueward) -> list[list[str]]:
    """The commands of the consultant's digest, without the program's name."""
    (consultant, *_) = json.loads(loaded("digest", *DAY).stdout)
    told = re.sub(r"\n +(?!To copy)", " ", consultant["text"] or "")
    return [shlex.split(line)[1:] for line in re.findall(r"To copy: (.*)", told)]


def test_a_digest_s_commands_print_what_it_asks_for(
    loaded: Dueward, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    commands = _commands(loaded)
    assert commands == [["chart", "A-1", "--year", year] for year in ("2026", "2027")]

    for words in commands:
        result = loaded(*words)
        assert result.exit_code == 0, result.stderr

    assert _commands(loaded) == []
    assert {path.name for path in tmp_path.glob("*.pdf")} == {
        "chart-A-1-2026.pdf",
        "chart-A-1-2027.pdf",
    }


def test_what_a_digest_counts_is_what_the_status_lists(loaded: Dueward) -> None:
    listed = json.loads(loaded("chart", "--status", "--region", "North", *DAY).stdout)

    assert [(row["property_number"], row["year"], row["reason"]) for row in listed] == [
        ("A-1", 2026, "new unit"),
        ("A-1", 2027, "new unit"),
    ]
