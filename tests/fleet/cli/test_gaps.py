"""What does `dueward gaps` print, and when does it refuse?"""

from __future__ import annotations

import json
from dataclasses import fields

import pytest

from fleet.domain.answers import FindingRow
from tests.fleet.cli.conftest import Dueward

COLUMNS = [
    *("site", "county", "region", "property_number", "kind", "task", "finding"),
    *("period_from", "period_to", "opens", "closes", "on", "entries", "settle"),
]
"""Design section 6."""
FEBRUARY = ("gaps", "--from", "2026-02-01", "--to", "2026-02-28")


def test_columns_are_those_of_the_contract_in_their_order(loaded: Dueward) -> None:
    assert [field.name for field in fields(FindingRow)] == COLUMNS
    assert list(json.loads(loaded(*FEBRUARY).stdout)[0]) == COLUMNS


def test_gaps_are_told_by_their_closing_day_with_both_ends(loaded: Dueward) -> None:
    def days(*words: str) -> list[tuple[str, str]]:
        rows = json.loads(loaded("gaps", "--finding", "gap", *words).stdout)
        return [(row["property_number"], row["closes"]) for row in rows]

    both = [("B-1", "2026-02-26"), ("B-1", "2026-02-27")]
    assert days("--from", "2026-02-01", "--to", "2026-03-01") == both
    assert days("--from", "2026-02-26", "--to", "2026-02-27") == both
    assert days("--from", "2026-02-27", "--to", "2026-02-27") == both[1:]
    assert days("--from", "2026-02-26", "--to", "2026-02-27", "--site", "alder") == []
    assert days("--from", "2026-02-26", "--to", "2026-02-27", "--on", "2026-02-27") == both[:1]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ((*FEBRUARY, "--finding", "gap", "--check"), 3),
        ((*FEBRUARY, "--finding", "gap"), 0),
        ((*FEBRUARY, "--finding", "gap", "--check", "--site", "alder"), 0),
    ],
)
def test_check_exits_with_three_where_there_is_a_finding(
    loaded: Dueward, words: tuple[str, ...], code: int
) -> None:
    assert loaded(*words).exit_code == code


def test_the_table_tells_site_by_site_what_is_missing(loaded: Dueward) -> None:
    assert loaded(*FEBRUARY, "--finding", "gap", "--format", "table").stdout == (
        "2 findings from Sun 1 Feb 2026 to Sat 28 Feb 2026: 2 gap\n"
        "\n"
        "birch, Boone County, South\n"
        "gap  2 times, Thu 26 Feb 2026 to Fri 27 Feb 2026  B-1  optics\n"
        "    Say why 2026-02-26 has no mark: dueward mark B-1 optics --on 2026-02-26 --as\n"
        "    explained --note '...' (and so on)\n"
    )


def test_the_table_says_when_there_is_nothing(loaded: Dueward) -> None:
    nothing = loaded(*FEBRUARY, "--finding", "gap", "--site", "alder", "--format", "table")

    assert nothing.stdout == "No findings from Sun 1 Feb 2026 to Sat 28 Feb 2026.\n"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ("gaps", "--from", "2026-03-02", "--to", "2026-03-01"),
            "--to: 2026-03-01 lies before --from 2026-03-02; give the later day as --to",
        ),
        (
            ("gaps", "--from", "March", "--to", "2026-03-01"),
            "--from: 'March' is not a date; write it as YYYY-MM-DD",
        ),
        (
            (*FEBRUARY, "--county", "Adam"),
            "--county: no county 'Adam'; did you mean 'Adams'?",
        ),
        (
            (*FEBRUARY, "--finding", "gaps"),
            "--finding: no finding 'gaps'; they are gap, late, batch, conflict, impossible,"
            " no initials, corrected",
        ),
        (
            ("gaps", "--from", "2026-03-02"),
            "dueward gaps: Missing option '--to'; see dueward gaps --help",
        ),
    ],
)
def test_a_span_that_is_none_is_refused(
    loaded: Dueward, words: tuple[str, ...], message: str
) -> None:
    result = loaded(*words)

    assert (result.exit_code, result.stdout, result.stderr) == (2, "", f"{message}\n")
