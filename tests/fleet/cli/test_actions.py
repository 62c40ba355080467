"""Do readings out of range and failed checks say at once what to do, and are they carried on?"""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import pytest

from fleet.cli.commands.action import action
from tests.fleet.cli.conftest import Dueward

BOOK = """\
[kind.refrigerator]
name = "Refrigerator"

[[kind.refrigerator.rule]]
task = "temperature"
title = "Read the temperature"
each = "open-day"
range = { low = 2.0, high = 8.0, unit = "C" }
source = "CDC vaccine storage and handling toolkit"
cautions = ["Keep the stock cold elsewhere.", "Local rules come first."]

[kind.pipette]
name = "Pipette"

[[kind.pipette.rule]]
task = "leak-check"
title = "Check for leaks"
every = "P1M"
stops_use = true
source = "common practice, no source"
cautions = ["Use water, never a specimen."]
"""
UNITS = """\
property_number,kind,manufacturer,model,serial,site,in_service_on
R-1,refrigerator,Exemplar,R1,100,alder,2026-02-23
P-1,pipette,Exemplar,P1,101,birch,2026-02-23
"""
MONDAY = ("--on", "2026-03-02", "--as", "done")
HOT = ("mark", "R-1", "temperature", *MONDAY, "--initials", "GR", "--reading", "8.1")
LEAKS = ("mark", "P-1", "leak-check", *MONDAY, "--failed", "--note", "it drips")
NUMBER = "R-1/2026-03-02/1"
DUE = ("--review-on", "2026-03-09")
CARRY_ON = ("action", "carry-on", NUMBER, "--action", "thermostat set", "--by", "Gail Reyes", *DUE)
REVIEW = ("action", "review", NUMBER, "--by", "Noor Northgate", "--effective")


@pytest.fixture
def bench(dueward: Dueward, files: Path) -> Dueward:
    """The command with a refrigerator and a pipette in its database."""
    (files / "rules.toml").write_text(BOOK, encoding="utf-8")
    (files / "units.csv").write_text(UNITS, encoding="utf-8")
    (files / "entries.csv").unlink()
    result = dueward("load", str(files))
    assert result.exit_code == 0, result.stderr
    return dueward


def test_a_reading_out_of_range_says_first_what_to_do(bench: Dueward) -> None:
    told = bench(*HOT, "--format", "table")

    assert (told.exit_code, told.stderr) == (0, "")
    assert told.stdout == (
        "R-1 temperature is marked done on Mon 2 Mar 2026 by GR (key R-1/temperature/2026-03-02/1)."
        "\nOut of limits: Read the temperature: read 8.1 C, allowed 2.0 to 8.0 C."
        " First do what the cautions say.\n"
        "Cautions\n"
        "* Keep the stock cold elsewhere.\n"
        "* Local rules come first.\n"
        f"Corrective action {NUMBER} is open; say what is done, by whom, and when it is reviewed:\n"
        f"  dueward action carry-on {NUMBER} --action '...' --by NAME --review-on DATE\n"
        "Now: done.\n"
    )


def test_the_answer_for_programs_names_the_action(bench: Dueward) -> None:
    answer = json.loads(bench(*HOT).stdout)

    assert (answer["mark"], answer["reading"]) == ("done", "8.1")
    assert {name: answer[name] for name in ("action_number", "action_next", "cautions")} == {
        "action_number": NUMBER,
        "action_next": f"dueward action carry-on {NUMBER} --action '...' --by NAME"
        " --review-on DATE",
        "cautions": ["Keep the stock cold elsewhere.", "Local rules come first."],
    }


def test_the_same_key_again_answers_the_same(bench: Dueward) -> None:
    first = bench(*HOT, "--key", "mine")

    assert bench(*HOT, "--key", "mine").stdout == first.stdout
    assert len(json.loads(bench("actions").stdout)) == 1


def test_a_failed_check_stops_the_use_until_it_is_passed(bench: Dueward) -> None:
    """42 CFR 493.1254(b)(2)(ii) (read in a reprint)."""
    failed = bench(*LEAKS, "--format", "table")
    passed = bench("mark", "P-1", "leak-check", *MONDAY, "--format", "table")

    assert failed.stdout == (
        "Failed: Check for leaks: it drips. Do not use it: it is out of service from"
        " Mon 2 Mar 2026 until the check is passed and marked done.\n"
        "Cautions\n"
        "* Use water, never a specimen.\n"
        "Corrective action P-1/2026-03-02/1 is open;"
        " say what is done, by whom, and when it is reviewed:\n"
        "  dueward action carry-on P-1/2026-03-02/1 --action '...' --by NAME --review-on DATE\n"
    )
    assert "\nThe check is passed: back in service on Mon 2 Mar 2026.\n" in passed.stdout


def test_a_failed_check_is_one_object_for_programs(bench: Dueward) -> None:
    assert json.loads(bench(*LEAKS).stdout) == {
        "property_number": "P-1",
        "task": "leak-check",
        "on": "2026-03-02",
        "action_number": "P-1/2026-03-02/1",
        "action_problem": "Check for leaks: it drips",
        "action_next": "dueward action carry-on P-1/2026-03-02/1 --action '...' --by NAME"
        " --review-on DATE",
        "out_of_service_from": "2026-03-02",
        "back_in_service_on": None,
        "cautions": ["Use water, never a specimen."],
    }
    (row,) = json.loads(bench("due", "--kind", "pipette").stdout)
    assert (row["state"], row["last_done"]) == ("out of service", None)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            (*LEAKS, "--reading", "4"),
            "--reading: with --failed no entry is written;"
            " leave it out; a reading out of range fails by itself, without --failed",
        ),
        (
            tuple("unused" if word == "done" else word for word in LEAKS),
            "--failed: only a check that was done fails; say --as done with --failed",
        ),
        (
            LEAKS[:-2],
            "mark, note: a failed check needs its finding; say with --note what was found",
        ),
        (
            ("action", "close", NUMBER),
            f"no action '{NUMBER}'; numbers stand in dueward actions --all",
        ),
        (
            ("action", "open", "R-9", "--problem", "cold"),
            "no unit or site 'R-9';"
            " write its property number or short name as in the units or sites file",
        ),
    ],
)
def test_what_cannot_be_is_refused_in_one_line_and_nothing_is_written(
    bench: Dueward, words: tuple[str, ...], message: str
) -> None:
    result = bench(*words)

    assert (result.exit_code, result.stdout, result.stderr) == (2, "", f"{message}\n")
    assert json.loads(bench("actions", "--all").stdout) == []


def test_an_action_is_carried_on_reviewed_and_closed(bench: Dueward) -> None:
    """42 CFR 493.1239(a)-(c) (read in a reprint)."""
    bench(*HOT)
    carried = json.loads(bench(*CARRY_ON).stdout)
    assert (carried["state"], carried["responsible"], carried["review_on"]) == (
        "to review",
        "Gail Reyes",
        "2026-03-09",
    )
    assert json.loads(bench(*REVIEW, "no").stdout)["state"] == "to act on"
    bench(*CARRY_ON[:4], "door seal replaced", *CARRY_ON[5:])
    closed = json.loads(bench(*REVIEW, "yes").stdout)
    assert (closed["state"], closed["closed_on"], closed["next"]) == ("closed", "2026-03-02", None)

    assert json.loads(bench("actions").stdout) == []
    assert [row["number"] for row in json.loads(bench("actions", "--all").stdout)] == [NUMBER]
    assert bench("action", "close", NUMBER).exit_code == 0


def test_what_is_overdue_comes_first_in_the_table(bench: Dueward) -> None:
    bench(*HOT)
    bench("action", "open", "birch", "--problem", "eyewash blocked", "--on", "2026-03-01")
    bench(*CARRY_ON)

    told = bench("actions", "--on", "2026-03-10", "--format", "table").stdout

    assert told == (
        "2 corrective actions open\n\n"
        "Review overdue (1)\n"
        "R-1/2026-03-02/1  Mon 2 Mar 2026  alder, Adams County, North  temperature\n"
        "  Read the temperature: read 8.1 C, allowed 2.0 to 8.0 C\n"
        "  Action: thermostat set (by Gail Reyes)\n"
        "  Its review was due on 2026-03-09; say whether it worked:\n"
        f"    dueward action review {NUMBER} --effective yes --by NAME\n\n"
        "To act on (1)\n"
        "birch/2026-03-01/1  Sun 1 Mar 2026  birch, Boone County, South\n"
        "  eyewash blocked\n"
        "  Say what is done, by whom, and when it is reviewed:\n"
        "    dueward action carry-on birch/2026-03-01/1 --action '...' --by NAME --review-on DATE\n"
    )


def test_nothing_open_is_said_so_and_checked(bench: Dueward) -> None:
    none = bench("actions", "--check", "--format", "table")
    bench(*HOT)

    assert (none.exit_code, none.stdout) == (0, "No corrective action is open.\n")
    assert bench("actions", "--check").exit_code == 3
    assert bench("actions", "--check", "--site", "birch").exit_code == 0


def test_the_rows_have_the_columns_of_the_contract(bench: Dueward) -> None:
    bench(*HOT)

    (row,) = json.loads(bench("actions").stdout)

    assert list(row) == [
        "number", "site", "county", "region", "property_number", "kind", "task", "opened_on",
        "problem", "action", "responsible", "review_on", "effective", "reviewed_by", "closed_on",
        "state", "entry", "struck_by", "next",
    ]  # fmt: skip


@pytest.mark.parametrize("name", ["open", "carry-on", "review", "close"])
def test_every_example_of_a_step_is_understood_as_it_stands(name: str) -> None:
    step = action.commands[name]
    _, *lines = (step.epilog or "").removeprefix("\b\n").split("\n")

    assert lines
    for line in lines:
        assert shlex.split(line)[:3] == ["dueward", "action", name]
        assert step.make_context(name, shlex.split(line)[3:])
