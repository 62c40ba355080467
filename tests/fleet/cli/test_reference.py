"""Is the command reference made of the commands' own help?"""

from __future__ import annotations

import re

import pytest

from fleet.cli.main import COMMANDS
from fleet.cli.reference import BEGIN, END, reference, updated

VISITS = (
    *("announce", "cancel", "compare", "confirm", "free", "hand-back", "list", "replan", "show"),
    *("sick", "unsuitable"),
)
ACCESS = ("bench", "disable", "enable", "end-second-factor", "invite", "list", "log", "pin")


def test_the_reference_has_every_command_with_its_help() -> None:
    told = re.findall(r"^### ([\w -]+)\n\n```text\nUsage: dueward ([\w -]+) ", reference(), re.M)

    assert [name for name, _ in told if " " not in name] == list(COMMANDS)
    assert [name for name, _ in told if " " in name] == [
        *(f"action {part}" for part in ("carry-on", "close", "open", "review")),
        *(f"visits {part}" for part in VISITS),
        *(f"access {part}" for part in ACCESS),
    ]
    assert all(usage == name for name, usage in told)


def test_the_reference_is_the_same_on_every_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    narrow = reference()
    monkeypatch.setenv("COLUMNS", "200")

    assert reference() == narrow
    assert max(map(len, narrow.split("\n"))) <= 100


def test_only_what_stands_between_the_marks_is_made_new() -> None:
    text = f"before\n{BEGIN}\nold\n{END}\nafter\n"

    new = updated(text)

    assert new == f"before\n{BEGIN}\n\n{reference()}\n{END}\nafter\n"
    assert updated(new) == new


def test_a_text_without_the_marks_is_refused() -> None:
    with pytest.raises(ValueError, match=re.escape(f"the text lacks the lines {BEGIN} and {END}")):
        updated("no marks")
