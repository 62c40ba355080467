"""Is what the README shows what the program says?"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleet.cli.main import main
from fleet.cli.reference import updated

README = (Path(__file__).resolve().parent.parent / "README.md").read_text(encoding="utf-8")


def test_the_command_reference_is_current() -> None:
    assert updated(README) == README, "run: python -m fleet.cli.reference README.md"


def test_the_tour_shows_the_demo_as_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "90")
    shown = re.search(r"<!-- demo -->\n```text\n(.*?)\n```", README, flags=re.DOTALL)
    assert shown is not None

    result = CliRunner().invoke(main, ["demo"])

    assert result.exit_code == 0
    assert result.stdout.rstrip() == shown[1]
    for command, output in re.findall(
        r"```text\n\$ dueward ([^\n]*)\n(.*?)\n```", README, flags=re.DOTALL
    ):
        told = CliRunner().invoke(main, [*command.split(), "--format", "table"])
        assert told.stdout.rstrip() == output, command
