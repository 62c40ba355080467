"""Can what a digest asks for be printed by copying its command?"""

from __future__ import annotations

import datetime as dt
import json
import re
import shlex
from pathlib import Path

import pytest

from tests.fleet.cli.conftest import Dueward

pytestmark = pytest.mark.usefixtures("undrawn")
MONDAY = dt.datetime(2026, 12, 7, 18, tzinfo=dt.UTC)


def _commands(loaded: Dueward) -> list[list[str]]:
    """The commands of the consultant's digest, without the program's name."""
    (consultant, *_) = json.loads(loaded("digest", at=MONDAY).stdout)
    told = re.sub(r"\n +(?!To copy)", " ", consultant["text"] or "")
    return [shlex.split(line)[1:] for line in re.findall(r"To copy: (.*)", told)]


def test_a_digest_s_commands_print_what_it_asks_for(
    loaded: Dueward, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    commands = _commands(loaded)
    assert commands == [
        ["chart", "A-1", "--site", "alder", "--year", year] for year in ("2026", "2027")
    ]

    for words in commands:
        result = loaded(*words, at=MONDAY)
        assert result.exit_code == 0, result.stderr

    assert _commands(loaded) == []
    assert {path.name for path in tmp_path.glob("*.pdf")} == {
        "chart-A-1-alder-2026.pdf",
        "chart-A-1-alder-2027.pdf",
    }


def test_one_command_prints_all_that_a_longer_digest_asks_for(
    loaded: Dueward, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    units = tmp_path / "units.csv"
    head = "property_number,kind,site,in_service_on\n"
    units.write_text(f"{head}A-2,microscope,alder,2026-01-05\n", encoding="utf-8")
    assert loaded("load", str(units)).exit_code == 0
    monkeypatch.chdir(tmp_path)
    (words,) = _commands(loaded)

    result = loaded(*words, "--format", "json", at=MONDAY)

    assert words == ["chart", "--missing", "--region", "North", "--out", "charts"]
    assert sorted((row["property_number"], row["year"]) for row in json.loads(result.stdout)) == [
        *(("A-1", 2026), ("A-1", 2027), ("A-2", 2026), ("A-2", 2027)),
    ]
    assert _commands(loaded) == []


def test_what_a_digest_counts_is_what_the_status_lists(loaded: Dueward) -> None:
    listed = json.loads(loaded("chart", "--status", "--region", "North", at=MONDAY).stdout)

    assert [(row["property_number"], row["year"], row["reason"]) for row in listed] == [
        ("A-1", 2026, "new unit"),
        ("A-1", 2027, "new unit"),
    ]
