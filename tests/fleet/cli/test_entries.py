"""Can the record be written, asked about and corrected from the command line?"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.fleet.cli.conftest import Dueward

MARK = ("mark", "A-1", "optics", "--on", "2026-03-02", "--as", "done", "--initials", "GR")
KEY = "A-1/optics/2026-03-02/1"


def state(dueward: Dueward, task: str = "optics") -> str:
    (row,) = json.loads(dueward("due", "--site", "alder", "--task", task).stdout)
    return str(row["state"])


def test_a_mark_answers_with_the_entry_and_what_is_next(loaded: Dueward) -> None:
    result = loaded(*MARK, "--note", "=1+1", "--reading", "4.5")

    assert (result.exit_code, result.stderr) == (0, "")
    assert json.loads(result.stdout) == {
        "key": KEY,
        "property_number": "A-1",
        "task": "optics",
        "on": "2026-03-02",
        "to": None,
        "mark": "done",
        "initials": "GR",
        "note": "=1+1",
        "reading": "4.5",
        "recorded_at": None,
        "strikes": None,
        "why": None,
        "stored_at": "2026-03-02T18:00:00+00:00",
        "by": "command:alice",
        "source": "command",
        "next_state": "done",
        "next_opens": "2026-03-02",
        "next_due": None,
        "next_limit": "2026-03-02",
        "action_number": None,
        "action_problem": None,
        "action_next": None,
        "out_of_service_from": None,
        "back_in_service_on": None,
        "cautions": [],
    }
    assert state(loaded) == "done"


def test_a_mark_in_a_sentence(loaded: Dueward) -> None:
    told = loaded(
        "mark", "A-1", "annual-service", "--on", "2026-03-02", "--as", "done", "--format", "table"
    )

    assert told.stdout == (
        "A-1 annual-service is marked done on Mon 2 Mar 2026 (key A-1/annual-service/2026-03-02/1)."
        " Next due Tue 2 Mar 2027.\n"
    )


def test_a_mark_shows_what_its_task_warns_of_before_what_is_next(loaded: Dueward) -> None:
    told = loaded(*MARK, "--format", "table")

    assert told.stdout == (
        f"A-1 optics is marked done on Mon 2 Mar 2026 by GR (key {KEY}).\n"
        "Cautions\n"
        "* Unplug before any liquid comes near.\n"
        "Now: done.\n"
    )


def test_the_same_key_twice_is_one_entry(loaded: Dueward) -> None:
    first = loaded(*MARK, "--key", "mine")
    again = loaded(*MARK, "--key", "mine")
    other = loaded(*MARK[:-1], "HS", "--key", "mine")

    assert again.stdout == first.stdout
    assert (other.exit_code, other.stdout) == (2, "")
    assert other.stderr == (
        "key 'mine' already stands for another entry (initials differs);"
        " an entry is never changed: strike it and write a new one\n"
    )


def test_what_looks_like_a_slip_is_written_only_anyway(loaded: Dueward) -> None:
    on_sunday = ("mark", "A-1", "optics", "--on", "2026-03-01", "--as", "done")
    refused = loaded(*on_sunday)
    meant = loaded(*on_sunday, "--anyway")

    assert (refused.exit_code, refused.stdout) == (2, "")
    assert refused.stderr == (
        "site alder is closed on 2026-03-01 (Sunday); say --anyway if it is meant\n"
    )
    assert meant.exit_code == 0


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ("mark", "A-7", "optics", "--on", "2026-03-02", "--as", "done"),
            "no unit 'A-7'; property numbers are written as in the units file",
        ),
        (
            ("mark", "A-1", "optic", "--on", "2026-03-02", "--as", "done"),
            "no task 'optic'; a microscope has: annual-service, optics",
        ),
        (
            ("mark", "A-1", "optics", "--on", "2026-03-02", "--as", "explained"),
            "mark, note: an explained mark needs its reason; give --note",
        ),
        (
            (*MARK, "--reading", "warm"),
            "mark, reading: 'warm' is not a number;"
            " write digits with a decimal point, as 4.5 or -20",
        ),
        (
            ("strike", "A-1/optics/2026-03-02/9", "--why", "wrong"),
            "no entry 'A-1/optics/2026-03-02/9';"
            " keys stand in the answer of mark and in gaps --format json",
        ),
        (
            ("why", "A-1", "optic"),
            "no task 'optic'; a microscope has: annual-service, optics",
        ),
    ],
)
def test_what_cannot_be_written_is_refused_and_nothing_is(
    loaded: Dueward, words: tuple[str, ...], message: str
) -> None:
    result = loaded(*words)

    assert (result.exit_code, result.stdout, result.stderr) == (2, "", f"{message}\n")
    assert state(loaded) == "due"


def test_a_struck_mark_no_longer_counts(loaded: Dueward) -> None:
    loaded(*MARK)

    struck = loaded("strike", KEY, "--why", "another unit", "--format", "table")

    assert struck.stdout == (
        f"Entry {KEY} is struck (key A-1/optics/2026-03-02/2). Now: mark by Mon 2 Mar 2026.\n"
    )
    assert state(loaded) == "due"


def test_a_struck_service_says_how_it_stands_where_its_day_is_past(loaded: Dueward) -> None:
    done = ("mark", "A-1", "annual-service", "--on", "2026-03-02", "--as", "done", "--key", "k")
    loaded(*done)

    struck = loaded("strike", "k", "--why", "another unit", "--format", "table")

    assert struck.stdout == (
        "Entry k is struck (key A-1/annual-service/2026-03-02/1). Now: overdue, 56 days past due.\n"
    )


def test_a_service_whose_window_is_open_is_told_with_the_day_it_is_due_by(loaded: Dueward) -> None:
    done = ("mark", "B-1", "annual-service", "--on", "2025-03-28", "--as", "done", "--anyway")

    told = loaded(*done, "--key", "k", "--format", "table")

    assert told.stdout == (
        "B-1 annual-service is marked done on Fri 28 Mar 2025 (key k)."
        " Now: due by Fri 10 Apr 2026.\n"
    )


def test_a_replaced_mark_counts_as_what_replaces_it(loaded: Dueward) -> None:
    loaded(*MARK)

    replaced = loaded(
        "strike", KEY, "--why", "not in use", "--replace-with", "unused", "--key", "r"
    )

    entry: dict[str, Any] = json.loads(replaced.stdout)
    assert (entry["key"], entry["mark"], entry["strikes"]) == ("r", "unused", KEY)
    assert entry["why"] == "not in use"
    assert entry["next_state"] == "done"


def test_a_correction_is_signed_by_who_makes_it(loaded: Dueward) -> None:
    """Without initials the mark that stands instead is a finding; the old ones sign nothing."""
    loaded(*MARK)
    loaded("strike", KEY, "--why", "not in use", "--replace-with", "unused", "--key", "r")
    asked = ("gaps", "--from", "2026-03-02", "--to", "2026-03-02", "--finding", "no initials")
    assert [row["entries"] for row in json.loads(loaded(*asked).stdout)] == ["r"]

    signed = ("--replace-with", "unused", "--initials", "HS", "--key", "s")
    answer = json.loads(loaded("strike", "r", "--why", "unsigned", *signed).stdout)

    assert (answer["initials"], answer["by"]) == ("HS", "command:alice")
    assert json.loads(loaded(*asked).stdout) == []


def test_why_is_one_object_with_the_row_and_the_steps(loaded: Dueward) -> None:
    (row,) = json.loads(loaded("due", "--site", "alder", "--task", "annual-service").stdout)

    answer = json.loads(loaded("why", "A-1", "annual-service").stdout)

    assert {name: answer[name] for name in row} == row
    assert answer["base"] == "2025-01-03"
    assert answer["steps"][-1] == (
        "So on Mon 2 Mar 2026 it is overdue, 56 days past its due date (38 open days)."
    )


CLOSED = "site,from,to,reason\nalder,2024-01-01,2030-12-31,rebuilding\n"
NO_OPEN_DAY = (
    "unit A-1, annual-service: site alder: no open day within 366 days of 2026-01-03;"
    " check its closures and its weekly pattern\n"
)


def test_why_fails_with_the_reason_where_a_due_date_cannot_be_told(
    loaded: Dueward, files: Path
) -> None:
    (files / "closures.csv").write_text(CLOSED, encoding="utf-8")
    loaded("load", str(files / "closures.csv"))

    result = loaded("why", "A-1", "annual-service")
    marked = loaded("mark", "A-1", "annual-service", "--on", "2026-03-02", "--as", "done")

    assert (result.exit_code, result.stdout, result.stderr) == (1, "", NO_OPEN_DAY)
    assert (marked.exit_code, json.loads(marked.stdout)["next_state"]) == (0, None)


def test_why_in_numbered_sentences_fits_the_terminal(loaded: Dueward) -> None:
    told = loaded("why", "A-1", "annual-service", "--format", "table").stdout.splitlines()
    steps = json.loads(loaded("why", "A-1", "annual-service").stdout)["steps"]

    assert max(map(len, told)) <= 80
    assert told[0].startswith("1. Unit A-1 (microscope")
    words = " ".join(line[3:].strip() for line in told)
    assert words == " ".join(steps)


def test_why_tells_the_cautions_of_the_task(loaded: Dueward) -> None:
    """Design 8."""
    answer = json.loads(loaded("why", "A-1", "optics").stdout)
    told = loaded("why", "A-1", "optics", "--format", "table").stdout

    assert answer["cautions"] == ["Unplug before any liquid comes near."]
    assert told.endswith("\n\nCautions\n* Unplug before any liquid comes near.\n")


def test_why_says_nothing_of_cautions_where_the_rule_has_none(loaded: Dueward) -> None:
    answer = json.loads(loaded("why", "A-1", "annual-service").stdout)
    told = loaded("why", "A-1", "annual-service", "--format", "table").stdout

    assert answer["cautions"] == []
    assert "Cautions" not in told


@pytest.mark.parametrize("command", ["mark", "why", "strike", "digest", "due"])
def test_no_help_text_speaks_of_a_chart_that_nobody_has_printed(
    dueward: Dueward, command: str
) -> None:
    assert "on the chart" not in dueward(command, "--help").stdout


def test_a_csv_of_an_entry_guards_what_was_typed(loaded: Dueward) -> None:
    told = loaded(*MARK, "--note", "=1+1", "--format", "csv").stdout

    assert ",GR,'=1+1," in told.splitlines()[1]


def test_an_upgrade_of_what_is_current_says_so(loaded: Dueward) -> None:
    result = loaded("upgrade")

    assert (result.exit_code, result.stdout) == (0, "")
    assert result.stderr == "nothing to do: the database is of this version\n"


def test_an_upgrade_of_nothing_says_what_to_run(dueward: Dueward) -> None:
    result = dueward("upgrade")

    assert result.exit_code == 1
    assert result.stderr.endswith("there is no fleet here yet; run dueward load or dueward demo\n")
