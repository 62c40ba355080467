"""Does the demo show what the program says of a whole state, and touch nothing else?"""

from __future__ import annotations

import datetime as dt
import re
import shlex
from pathlib import Path

import pytest

import demo_data
from demo_data.scenario.opening import LAST_ON
from fleet.cli.commands.demo import made
from tests.fleet.cli.conftest import Dueward

EVENING = dt.datetime(2026, 11, 25, 23, tzinfo=dt.UTC)


def test_the_demos_today_is_the_day_after_its_record() -> None:
    assert (demo_data.today() - LAST_ON).days == 1


def test_the_demo_shows_the_state_and_commands_that_work(
    dueward: Dueward, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "a demo"

    result = dueward("demo", str(folder), at=EVENING)

    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("An invented state on Wed 25 Nov 2026: 283 units\n")
    assert "\nCounties that owe service, the longest overdue first\n" in result.stdout
    digests = list((folder / "digests").rglob("*.eml"))
    assert f"\n{len(digests)} digests written to {folder / 'digests'}\n" in result.stdout
    assert {digest.parent.name for digest in digests} == {"consultant", "manager", "site_lead"}
    assert {path.name for path in tmp_path.iterdir()} == {"a demo"}
    commands = re.findall(r"^    dueward (.*)$", result.stdout, re.MULTILINE)
    assert len(commands) == 9
    assert commands.pop().endswith(" serve"), "it serves until it is stopped; test_serving tries it"
    monkeypatch.chdir(tmp_path)
    for command in commands:
        answer = dueward(*shlex.split(command), at=EVENING)
        assert answer.exit_code == 0, (command, answer.stderr)
        assert answer.stdout not in ("", "[]\n")


def test_the_demo_does_not_mix_with_another_fleet(loaded: Dueward, tmp_path: Path) -> None:
    before = loaded("due").stdout

    result = loaded("demo", str(tmp_path), "--database", f"sqlite:///{tmp_path / 'own.db'}")

    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        f"{tmp_path / 'own.db'}: there is a fleet here already;"
        " name another folder, or remove this one first\n"
    )
    assert loaded("due").stdout == before


def test_the_demo_leaves_the_machines_own_database_alone(dueward: Dueward, tmp_path: Path) -> None:
    dueward("demo", str(tmp_path / "demo"))

    assert {path.name for path in tmp_path.iterdir()} == {"demo"}
    assert (tmp_path / "demo" / "dueward.db").is_file()


def interrupted(folder: Path, letter: str = "") -> None:
    with made(folder):
        if letter:
            (folder / letter).touch()
        raise KeyboardInterrupt


def test_a_demo_that_is_interrupted_leaves_no_empty_folder(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        interrupted(tmp_path / "a" / "b")

    assert list(tmp_path.iterdir()) == []


def test_a_demo_that_is_interrupted_takes_away_nothing_that_it_did_not_make(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    for folder, letter in (("mine", ""), ("new", "letter.txt")):
        with pytest.raises(KeyboardInterrupt):
            interrupted(tmp_path / folder, letter)

    assert {path.name for path in tmp_path.iterdir()} == {"mine", "new"}
