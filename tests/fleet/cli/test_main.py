"""Is the command quick to help, and does it end as design section 6 says?"""

from __future__ import annotations

import importlib
import os
import pkgutil
import re
import resource
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from fleet.cli import commands
from fleet.cli.main import COMMANDS, VERSION, main
from fleet.cli.refusals import tell
from fleet.errors import BadInput, Doubtful, Fault, FleetError, KeyTaken, NotFound, StoreError
from fleet.wiring import Program
from notifications.errors import BadSettings, ServerFault
from schedules.errors import NoOpenDay
from tests.fleet.cli.conftest import NOON, Dueward

ROOT = Path(__file__).parents[3]
HEAVY = ("alembic", "holidays", "jinja2", "numpy", "pandas", "rich", "sqlalchemy")


def run(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the program as a process of its own."""
    return subprocess.run(
        [sys.executable, *words],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env=os.environ | environment,
    )


@pytest.mark.parametrize("word", ["--help", "--version"])
def test_help_and_version_import_nothing_heavy(word: str) -> None:
    result = run("-X", "importtime", "-m", "fleet", word)

    imported = {
        line.rpartition("|")[2].strip().partition(".")[0] for line in result.stderr.split("\n")
    }
    assert result.returncode == 0
    assert "click" in imported
    assert imported.isdisjoint(HEAVY)


@pytest.mark.parametrize("word", ["--help", "--version"])
def test_help_and_version_take_a_tenth_of_a_second(word: str) -> None:
    """The least of five runs, of the processor's time: other work on the machine is not counted."""

    def seconds() -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        run("-m", "fleet", word)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    assert min(seconds() for _ in range(5)) < 0.1


def test_the_version_is_that_of_the_package() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

    assert project["version"] == VERSION
    assert project["scripts"] == {"dueward": "fleet.cli.main:main"}
    assert run("-m", "fleet", "--version").stdout == f"dueward {VERSION}\n"


def test_help_lists_the_commands_that_there_are() -> None:
    modules = {module.name for module in pkgutil.iter_modules(commands.__path__)}

    assert {name.replace("-", "_") for name in COMMANDS} == modules
    listed = re.findall(r"^  (\w[\w-]*)  +\S", run("-m", "fleet", "--help").stdout, re.MULTILINE)
    assert listed == list(COMMANDS)


def command_of(name: str) -> click.Command:
    module = name.replace("-", "_")
    found = importlib.import_module(f"fleet.cli.commands.{module}")
    command: click.Command = getattr(found, module)
    return command


@pytest.mark.parametrize("name", COMMANDS)
def test_the_short_help_is_the_first_line_of_the_long_one(name: str) -> None:
    assert (command_of(name).help or "").split("\n")[0] == COMMANDS[name]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_example_is_understood_as_it_stands(name: str) -> None:
    command = command_of(name)
    _, *lines = (command.epilog or "").removeprefix("\b\n").split("\n")

    assert lines
    for line in lines:
        words = shlex.split(line.partition(" > ")[0])
        words = words[words.index("dueward") + 1 :]
        root = main.make_context("dueward", words)
        found, _, rest = main.resolve_command(root, [*root._protected_args, *root.args])
        assert (found, bool(command.make_context(name, rest, parent=root))) == (name, True)


def test_without_a_command_the_help_is_told_and_the_use_is_wrong() -> None:
    result = CliRunner().invoke(main, [])

    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("Usage: dueward [OPTIONS] COMMAND [OPTIONS]...\n")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["deu"], "dueward: No such command 'deu'; see dueward --help"),
        (["why", "A-1"], "dueward why: Missing argument 'TASK'; see dueward why --help"),
        (
            ["due", "--format", "xml"],
            "dueward due: Invalid value for '--format': 'xml' is not one of 'table', 'json',"
            " 'csv'; see dueward due --help",
        ),
        (
            ["strike", "A-1/optics/2026-02-23/1"],
            "dueward strike: Missing option '--why'; see dueward strike --help",
        ),
    ],
)
def test_wrong_use_is_one_line_that_says_where_to_read(words: list[str], message: str) -> None:
    result = CliRunner().invoke(main, words)

    assert (result.exit_code, result.stdout) == (2, "")
    assert re.sub(r" \(Did you mean .*\?\)|\. \(?Did you mean .*\?\)?", "", result.stderr) == (
        f"{message}\n"
    )


STRANGE = b"a\xff"
MARKED = ("mark", "A-1", "optics", "--on", "2026-03-02", "--as", "done")


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ((*MARKED, "--note", STRANGE), "--note"),
        ((*MARKED, "--key", STRANGE), "--key"),
        ((*MARKED, "--initials", STRANGE), "--initials"),
        (("mark", STRANGE, *MARKED[2:]), "PROPERTY_NUMBER"),
        (("strike", STRANGE, "--why", "wrong"), "KEY"),
        (("strike", "k", "--why", STRANGE), "--why"),
        (("why", "A-1", STRANGE), "TASK"),
        (("due", "--site", "alder", "--site", STRANGE), "--site"),
        (("demo", STRANGE), "FOLDER"),
        (("due", "--database", b"sqlite:///\xff.db"), "--database"),
        (("--database", b"sqlite:///\xff.db", "due"), "--database"),
    ],
)
def test_bytes_that_are_no_text_are_refused_at_the_door(
    tmp_path: Path, words: tuple[str | bytes, ...], name: str
) -> None:
    result = subprocess.run(
        [sys.executable, "-m", "fleet", *words],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env=os.environ | {"DUEWARD_DATABASE": f"sqlite:///{tmp_path / 'none.db'}"},
    )
    value = r"sqlite:///\udcff.db" if name == "--database" else r"a\udcff"

    assert (result.returncode, result.stdout) == (2, "")
    assert result.stderr == (
        f"{name}: '{value}' holds bytes that are not UTF-8; write it in UTF-8\n"
    )


def faulty(count: int, total: int) -> BadInput:
    return BadInput(
        [Fault("units.csv", row, "kind", "none", "name it") for row in range(count)], total
    )


@pytest.mark.parametrize(
    ("error", "code", "last_line"),
    [
        (faulty(2, 2), 2, "units.csv row 1, kind: none; name it"),
        (faulty(1000, 1000), 2, "units.csv row 999, kind: none; name it"),
        (faulty(1000, 4321), 2, "and 3,321 more"),
        (NotFound("unit", "A-9", "check it"), 2, "no unit 'A-9'; check it"),
        (Doubtful("it is odd"), 2, "it is odd; say --anyway if it is meant"),
        (
            KeyTaken("k", "mark"),
            2,
            "key 'k' already stands for another entry (mark differs);"
            " an entry is never changed: strike it and write a new one",
        ),
        (
            BadSettings("DUEWARD_SMTP", "it is odd", "mend it"),
            2,
            "DUEWARD_SMTP: it is odd; mend it",
        ),
        (StoreError("x.db: it is full"), 1, "x.db: it is full"),
        (NoOpenDay("alder", NOON.date(), 366), 1, str(NoOpenDay("alder", NOON.date(), 366))),
        (ServerFault("h", "login", 535, "no", "mend"), 1, "mail server h, login: 535 no; mend"),
        (
            PermissionError(13, "Permission denied", "out"),
            1,
            "out: Permission denied; check that it is there and may be read or written",
        ),
        (click.Abort(), 130, "interrupted; the database holds nothing half-written"),
        (FleetError("a\x1b[2Jb\nc"), 1, "a\\x1b[2Jb c"),
    ],
)
def test_a_refusal_is_told_in_lines_with_its_exit_code(
    error: Exception, code: int, last_line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert tell(error) == code

    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.endswith(f"{last_line}\n")
    faults = len(getattr(error, "faults", ())) or 1
    assert len(captured.err.splitlines()) == faults + last_line.startswith("and ")


def test_what_nobody_foresaw_is_not_hidden() -> None:
    with pytest.raises(ZeroDivisionError):
        tell(ZeroDivisionError("a fault of the program's own"))


def test_control_c_is_one_line_and_exit_code_130() -> None:
    def interrupted(database: str | None) -> Program:
        raise KeyboardInterrupt

    result = CliRunner().invoke(main, ["due"], obj=interrupted)

    assert (result.exit_code, result.stdout) == (130, "")
    assert result.stderr == "interrupted; the database holds nothing half-written\n"


def test_the_database_may_be_named_before_or_after_the_command(
    dueward: Dueward, files: Path, tmp_path: Path
) -> None:
    before, after = (f"sqlite:///{tmp_path / name}" for name in ("before.db", "after.db"))

    assert dueward("--database", before, "load", str(files)).exit_code == 0
    assert dueward("load", str(files), "--database", after).exit_code == 0
    assert {file.name for file in tmp_path.glob("*.db")} == {"before.db", "after.db"}
    told = dueward("due", "--database", before).stdout
    assert (
        told
        == dueward("--database", before, "due").stdout
        == dueward("--database", after, "due").stdout
    )


def test_the_database_after_the_command_wins_over_the_one_before(
    dueward: Dueward, tmp_path: Path
) -> None:
    one, other = (f"sqlite:///{tmp_path / name}" for name in ("one.db", "other.db"))

    assert dueward("--database", one, "due", "--database", other).stderr == (
        f"{tmp_path / 'other.db'}: there is no fleet here yet; run dueward load or dueward demo\n"
    )


def test_the_environment_names_the_database_where_nobody_does(tmp_path: Path) -> None:
    named = f"sqlite:///{tmp_path / 'named.db'}"

    result = run("-m", "fleet", "due", DUEWARD_DATABASE=named)

    assert (result.returncode, result.stdout) == (1, "")
    assert result.stderr == (
        f"{tmp_path / 'named.db'}: there is no fleet here yet; run dueward load or dueward demo\n"
    )
