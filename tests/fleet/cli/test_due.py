"""What does `dueward due` print, and when does it refuse?"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from typing import Any

import pytest

from fleet.cli.grids import heading, printed
from fleet.cli.picture import standing
from fleet.domain.answers import StatusRow
from tests.fleet.cli.conftest import Dueward

COLUMNS = [
    *("site", "county", "region", "property_number", "kind", "task", "basis", "state"),
    *("last_done", "nominal", "opens", "due", "limit"),
    *("days_past_due", "open_days_past_due", "missed"),
]
"""Design section 6."""

TABLE = """\
Today: 1 county owes service (1 service overdue), 1 service due, 1 chart with
marks missing

Adams County, North: 1 service overdue
56 days past due        A-1  annual-service  alder

Boone County, South: 1 service due, 1 chart with marks missing
2 marks missing         B-1  optics          birch
due by Fri 10 Apr 2026  B-1  annual-service  birch

Not shown: 1 chart waiting for a mark (its day, week or month is not over yet);
--all shows them.
"""


def rows(text: str) -> list[dict[str, Any]]:
    answer: list[dict[str, Any]] = json.loads(text)
    return answer


def test_due_prints_one_json_array_where_there_is_no_terminal(loaded: Dueward) -> None:
    result = loaded("due", "--on", "2026-03-02", "--site", "alder", "--task", "annual-service")

    assert (result.exit_code, result.stderr) == (0, "")
    assert rows(result.stdout) == [
        {
            "site": "alder",
            "county": "Adams",
            "region": "North",
            "property_number": "A-1",
            "kind": "microscope",
            "task": "annual-service",
            "basis": "anchored",
            "state": "overdue",
            "last_done": "2025-01-03",
            "nominal": "2026-01-03",
            "opens": "2025-11-19",
            "due": "2026-01-05",
            "limit": "2026-01-18",
            "days_past_due": 56,
            "open_days_past_due": 38,
            "missed": None,
        }
    ]


def test_columns_are_those_of_the_contract_in_their_order(loaded: Dueward) -> None:
    assert list(StatusRow._fields) == COLUMNS
    assert list(rows(loaded("due").stdout)[0]) == COLUMNS


def test_csv_has_the_same_rows_under_a_header(loaded: Dueward) -> None:
    told = list(csv.DictReader(io.StringIO(loaded("due", "--format", "csv").stdout)))

    expected = [
        {name: "" if value is None else str(value) for name, value in row.items()}
        for row in rows(loaded("due").stdout)
    ]
    assert told == expected


def test_the_table_begins_with_the_county_that_owes_service(loaded: Dueward) -> None:
    assert loaded("due", "--format", "table").stdout == TABLE


def test_the_table_of_one_county_lists_what_waits_for_a_mark(loaded: Dueward) -> None:
    assert loaded("due", "--on", "2026-03-02", "--county", "adams", "--format", "table").stdout == (
        "Mon 2 Mar 2026: 1 county owes service (1 service overdue)\n"
        "\n"
        "Adams County, North: 1 service overdue, 1 chart waiting for a mark\n"
        "56 days past due        A-1  annual-service  alder\n"
        "mark by Mon 2 Mar 2026  A-1  optics          alder\n"
    )


def test_one_missing_mark_is_one_and_a_county_without_late_service_owes_none(
    loaded: Dueward,
) -> None:
    assert loaded("due", "--on", "2026-02-27", "--county", "boone", "--format", "table").stdout == (
        "Fri 27 Feb 2026: no county owes service, 1 service due, 1 chart with marks\n"
        "missing\n"
        "\n"
        "Boone County, South: 1 service due, 1 chart with marks missing\n"
        "1 mark missing          B-1  optics          birch\n"
        "due by Fri 10 Apr 2026  B-1  annual-service  birch\n"
    )


def test_several_charts_that_only_wait_are_counted_with_what_they_wait_for(
    loaded: Dueward,
) -> None:
    only_charts = ("due", "--on", "2026-02-23", "--task", "optics", "--format", "table")
    loaded("strike", "A-1/optics/2026-02-23/1", "--why", "wrong")
    loaded("strike", "B-1/optics/2026-02-23/1", "--why", "wrong")

    assert loaded(*only_charts).stdout == (
        "Mon 23 Feb 2026: no county owes service\n"
        "\n"
        "Not shown: 2 charts waiting for a mark (their day, week or month is not over\n"
        "yet); --all shows them.\n"
    )
    assert loaded(*only_charts, "--all").stdout == (
        "Mon 23 Feb 2026: no county owes service\n"
        "\n"
        "Adams County, North: 1 chart waiting for a mark\n"
        "mark by Mon 23 Feb 2026  A-1  optics  alder\n"
        "\n"
        "Boone County, South: 1 chart waiting for a mark\n"
        "mark by Mon 23 Feb 2026  B-1  optics  birch\n"
    )


def test_with_no_color_a_terminal_gets_no_escape_at_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert printed(heading("Adams County")) == "\x1b[1mAdams County\x1b[0m\n"

    monkeypatch.setenv("NO_COLOR", "1")
    assert printed(heading("Adams County")) == "Adams County\n"


def test_the_table_says_when_nothing_is_owed(loaded: Dueward) -> None:
    on_a_sunday = loaded("due", "--on", "2025-06-01", "--site", "alder", "--format", "table")

    assert on_a_sunday.stdout == (
        "Nothing is due or overdue on Sun 1 Jun 2025.\n\nNot shown: 2 upcoming; --all shows them.\n"
    )


def test_the_default_day_is_today_at_each_site(loaded: Dueward) -> None:
    assert loaded("due").stdout == loaded("due", "--on", "2026-03-02").stdout


def test_rows_are_counted_by_county(loaded: Dueward) -> None:
    adams, boone = rows(loaded("due", "--by", "county").stdout)

    assert adams == {
        "group": "Adams",
        "units": 1,
        "rows": 2,
        "upcoming": 0,
        "due": 1,
        "overdue": 1,
        "done": 0,
        "out_of_service": 0,
        "not_in_service_yet": 0,
        "retired": 0,
        "longest_days_past_due": 56,
    }
    assert boone["longest_days_past_due"] is None


def test_the_table_of_counts_fits_eighty_columns(loaded: Dueward) -> None:
    assert loaded("due", "--by", "region", "--format", "table").stdout == (
        "region  units  overdue  due  done  upcoming  not in use  past due by\n"
        "North       1        1    1     0         0           0  56 days\n"
        "South       1        1    1     0         0           0\n"
    )


def a_row(on: str, due: str | None, limit: str, basis: str = "anchored") -> StatusRow:
    """A row in state due on a day."""
    day, due_on = dt.date.fromisoformat(on), due and dt.date.fromisoformat(due)
    past = max(0, (day - due_on).days) if due_on else None
    names = ("alder", "Adams", "North", "A-1", "microscope", "annual-service", basis, "due")
    dates = (None, due_on, None, due_on, dt.date.fromisoformat(limit))
    return StatusRow(*names, *dates, past, past, None)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (a_row("2026-04-10", "2026-04-10", "2026-04-25"), "due by Fri 10 Apr 2026"),
        (a_row("2026-04-11", "2026-04-10", "2026-04-25"), "was due 10 Apr, until 25 Apr 2026"),
        (a_row("2027-01-02", "2026-12-28", "2027-01-12"), "was due 28 Dec 2026, until 12 Jan 2027"),
        (a_row("2026-04-10", "2026-04-10", "2026-04-10"), "due by Fri 10 Apr 2026"),
        (a_row("2026-04-06", None, "2026-04-10", "cell"), "mark by Fri 10 Apr 2026"),
    ],
)
def test_what_is_due_is_told_by_its_due_date_and_in_its_grace_by_both(
    row: StatusRow, words: str
) -> None:
    """A limit may be a closed day; a due date never is, unless its rule lets it."""
    assert standing(row) == words


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["due", "--check"], 3),
        (["due", "--check", "--by", "kind"], 3),
        (["due", "--check", "--status", "due"], 0),
        (["due"], 0),
    ],
)
def test_check_exits_with_three_where_a_row_is_overdue(
    loaded: Dueward, words: list[str], code: int
) -> None:
    assert loaded(*words).exit_code == code


def test_an_earlier_state_of_knowledge_can_be_asked(loaded: Dueward) -> None:
    before = loaded("due", "--on", "2026-03-02", "--known-at", "2026-03-01T00:00:00Z")

    assert {row["last_done"] for row in rows(before.stdout)} == {None}


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--site", "aldr"], "--site: no site 'aldr'; did you mean 'alder'?"),
        (["--county", "Bone"], "--county: no county 'Bone'; did you mean 'Boone'?"),
        (["--region", "Far East"], "--region: no region 'Far East'; they are North, South"),
        (["--kind", "Microscop"], "--kind: no kind 'Microscop'; did you mean 'microscope'?"),
        (["--task", "optic"], "--task: no task 'optic'; did you mean 'optics'?"),
        (["--status", "over due"], "--status: no status 'over due'; did you mean 'overdue'?"),
        (["--on", "31/02/2026"], "--on: '31/02/2026' is not a date; write it as YYYY-MM-DD"),
        (
            ["--on", "2026-02-30"],
            "--on: 2026-02-30 is no day of the calendar; check its month and day",
        ),
        (
            ["--on", "2026-13-01"],
            "--on: 2026-13-01 is no day of the calendar; check its month and day",
        ),
        # Half alike is not near: no name is put into anybody's mouth.
        (["--county", "Adel"], "--county: no county 'Adel'; they are Adams, Boone"),
        (["--on", "2026-2-3"], "--on: '2026-2-3' is not a date; write it as YYYY-MM-DD"),
        (["--on", "20260203"], "--on: '20260203' is not a date; write it as YYYY-MM-DD"),
        (["--on", "٢٠٢٦-03-02"], "--on: '٢٠٢٦-03-02' is not a date; write it as YYYY-MM-DD"),
        (
            ["--on", "1949-12-31"],
            "--on: 1949-12-31 is out of reach; give a day from 1950-01-01 to 2099-12-31",
        ),
        (
            ["--known-at", "2026-03-02T10:00"],
            "--known-at: '2026-03-02T10:00' has no time zone;"
            " write it as 2026-03-02T10:00:00Z or 2026-03-02T10:00:00-06:00",
        ),
        (
            ["--known-at", "yesterday"],
            "--known-at: 'yesterday' is not an instant;"
            " write it as 2026-03-02T10:00:00Z or 2026-03-02T10:00:00-06:00",
        ),
        (
            ["--known-at", "0001-01-01T00:00:00+14:00"],
            "--known-at: '0001-01-01T00:00:00+14:00' is not an instant;"
            " write it as 2026-03-02T10:00:00Z or 2026-03-02T10:00:00-06:00",
        ),
        (
            ["--known-at", "1900-01-01T00:00:00Z"],
            "--known-at: '1900-01-01T00:00:00Z' is out of reach;"
            " give an instant in the years 1950 to 2099",
        ),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_words_that_mean_nothing_are_refused_with_the_mend(
    loaded: Dueward, words: list[str], message: str
) -> None:
    result = loaded("due", *words)

    assert (result.exit_code, result.stdout, result.stderr) == (2, "", f"{message}\n")


def test_every_unknown_name_is_told_at_once(loaded: Dueward) -> None:
    result = loaded("due", "--site", "aldr", "--site", "ALDER", "--task", "optic")

    assert result.stderr == (
        "--site: no site 'aldr'; did you mean 'alder'?\n"
        "--task: no task 'optic'; did you mean 'optics'?\n"
    )
