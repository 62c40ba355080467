"""What do `dueward review` and `dueward reviews` tell, write and refuse?

February is over at the fixture's noon; A-1's and B-1's record begins on its 23rd, and B-1 lacks two
marks of it.
"""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

import pytest

from tests.fleet.cli.conftest import NOON, Dueward

LATER = NOON + dt.timedelta(hours=1)


def rows(text: str) -> list[dict[str, Any]]:
    answer: list[dict[str, Any]] = json.loads(text)
    return answer


def test_reviews_has_a_row_a_site_and_month(loaded: Dueward) -> None:
    result = loaded("reviews")

    assert (result.exit_code, result.stderr) == (0, "")
    alder, birch = rows(result.stdout)
    assert alder == {
        "site": "alder",
        "county": "Adams",
        "region": "North",
        "month": "2026-02",
        "state": "to review",
        "returned_on": None,
        "reviewed_on": None,
        "reviewed_by": None,
        "signed_at": None,
        "touched_by": None,
        "gaps": 0,
        "note": None,
    }
    assert (birch["site"], birch["gaps"]) == ("birch", 2)


def test_review_signs_a_month_and_answers_with_its_row(loaded: Dueward) -> None:
    result = loaded(
        *("review", "alder", "2026-02", "--by", "Noor Northgate", "--returned", "2026-03-02")
    )

    assert (result.exit_code, result.stderr) == (0, "")
    row = json.loads(result.stdout)
    assert (row["state"], row["reviewed_on"], row["reviewed_by"]) == (
        *("signed", "2026-03-02"),
        "Noor Northgate",
    )
    assert row["signed_at"] == "2026-03-02T18:00:00+00:00"
    assert rows(loaded("reviews", "--site", "alder").stdout) == [row]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("alder", "2026-02", "--by", "Noor"),
            "February 2026 of alder is signed by Noor on Mon 2 Mar 2026.\n",
        ),
        (
            ("birch", "2026-02", "--by", "Noor", "--anyway", "--returned", "2026-03-02"),
            "February 2026 of birch is signed by Noor on Mon 2 Mar 2026, its charts came back on"
            " Mon 2 Mar 2026. 2 gaps stay open.\n",
        ),
        (
            ("birch", "2026-02", "--returned", "2026-03-01"),
            "February 2026 of birch is to be reviewed, its charts came back on Sun 1 Mar 2026."
            " 2 gaps open.\n",
        ),
    ],
)
def test_review_says_how_the_month_stands(
    loaded: Dueward, words: tuple[str, ...], said: str
) -> None:
    assert loaded("review", *words, "--format", "table").stdout == said


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ("birch", "2026-02", "--by", "Noor"),
            "birch 2026-02: 2 gaps are open; say --anyway if it is meant\n",
        ),
        (
            ("alder", "2026-03", "--by", "Noor"),
            "alder 2026-03: the month is not over; review it from 2026-04-01 on\n",
        ),
        (("oak", "2026-02", "--by", "Noor"), "no site 'oak'; see dueward due --by site\n"),
    ],
)
def test_what_cannot_be_signed_is_one_line_and_nothing_is_written(
    loaded: Dueward, words: tuple[str, ...], message: str
) -> None:
    result = loaded("review", *words)

    assert (result.exit_code, result.stdout, result.stderr) == (2, "", message)
    assert {row["state"] for row in rows(loaded("reviews").stdout)} == {"to review"}


def test_a_late_explanation_reopens_the_month(loaded: Dueward) -> None:
    """Through the commands, with the record on disk."""
    loaded("review", "birch", "2026-02", "--by", "Noor", "--anyway")
    explained = ("--as", "explained", "--note", "was ill", "--key", "k-1")
    marked = loaded("mark", "B-1", "optics", "--on", "2026-02-26", *explained, at=LATER)
    assert marked.exit_code == 0, marked.stderr

    (row,) = rows(loaded("reviews", "--site", "birch", at=LATER).stdout)
    assert (row["state"], row["touched_by"], row["gaps"]) == ("reopened", "k-1", 1)

    known = rows(loaded("reviews", "--site", "birch", "--known-at", NOON.isoformat()).stdout)
    assert [(one["state"], one["gaps"]) for one in known] == [("signed", 2)]

    again = loaded("review", "birch", "2026-02", "--by", "Noor", "--anyway", at=LATER)
    assert json.loads(again.stdout)["state"] == "signed"


def test_the_table_says_what_to_do_first(loaded: Dueward) -> None:
    loaded("review", "birch", "2026-02", "--returned", "2026-03-02")

    assert loaded("reviews", "--format", "table").stdout == (
        "2 months from March 2025 to February 2026: 2 to review\n"
        "\n"
        "month    site                 state      charts back     gaps\n"
        "2026-02  birch, Boone County  to review  Mon 2 Mar 2026  2\n"
        "2026-02  alder, Adams County  to review  not noted       none\n"
        "\n"
        "Start with birch, February 2026\n"
        "  See what is open:\n"
        "    dueward gaps --from 2026-02-01 --to 2026-02-28 --site birch\n"
        "  Sign it:\n"
        "    dueward review birch 2026-02 --by NAME\n"
    )


def test_the_table_says_what_reopened_a_month(loaded: Dueward) -> None:
    loaded("review", "alder", "2026-02", "--by", "Noor")
    loaded("review", "birch", "2026-02", "--by", "Noor", "--anyway")
    marked = ("B-1", "optics", "--on", "2026-02-26", "--as", "unused", "--key", "k-1")
    loaded("mark", *marked, at=LATER)

    assert loaded("reviews", "--format", "table", at=LATER).stdout == (
        "1 month from March 2025 to February 2026: 1 reopened\n"
        "\n"
        "month    site                 state     charts back  gaps\n"
        "2026-02  birch, Boone County  reopened  not noted    1\n"
        "\n"
        "Start with birch, February 2026\n"
        "  Signed by Noor on Mon 2 Mar 2026; changed since:\n"
        "    k-1\n"
        "  See what is open:\n"
        "    dueward gaps --from 2026-02-01 --to 2026-02-28 --site birch\n"
        "  Note the day its charts came back:\n"
        "    dueward review birch 2026-02 --returned DATE\n"
        "  Sign it:\n"
        "    dueward review birch 2026-02 --by NAME\n"
        "\n"
        "1 month is signed.\n"
    )


def test_the_table_says_when_nothing_waits(loaded: Dueward) -> None:
    loaded("review", "alder", "2026-02", "--by", "Noor")

    told = loaded("reviews", "--site", "alder", "--format", "table").stdout
    assert told == "All 1 month from March 2025 to February 2026 are signed.\n"
    none = loaded("reviews", "--to", "2025-12", "--format", "table").stdout
    assert none == "No site had a chart from March 2025 to December 2025.\n"


def test_open_and_check_look_at_what_waits(loaded: Dueward) -> None:
    loaded("review", "alder", "2026-02", "--by", "Noor")

    assert [row["site"] for row in rows(loaded("reviews", "--open").stdout)] == ["birch"]
    assert loaded("reviews", "--check").exit_code == 3
    assert loaded("reviews", "--check", "--site", "alder").exit_code == 0
    assert loaded("reviews", "--site", "alder", "--open").stdout == "[]\n"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--from", "2026-2"), "--from: '2026-2' is not a month; write YYYY-MM\n"),
        (("--to", "February"), "--to: 'February' is not a month; write YYYY-MM\n"),
        (
            ("--from", "2026-02", "--to", "2026-01"),
            "--to: 2026-01 lies before --from 2026-02; give the later month as --to\n",
        ),
        (("--site", "aldr"), "--site: no site 'aldr'; did you mean 'alder'?\n"),
    ],
)
def test_what_cannot_be_asked_is_refused(
    loaded: Dueward, words: tuple[str, ...], message: str
) -> None:
    result = loaded("reviews", *words)

    assert (result.exit_code, result.stdout, result.stderr) == (2, "", message)


def test_charts_that_came_back_late_are_a_finding(loaded: Dueward) -> None:
    """The fifth open day of March 2026 at Alder is Friday the 6th."""
    late = dt.datetime(2026, 3, 10, 18, tzinfo=dt.UTC)
    loaded("review", "alder", "2026-02", "--returned", "2026-03-09", at=late)

    asked = ("--from", "2026-03-01", "--to", "2026-03-31", "--finding", "chart returned late")
    (row,) = rows(loaded("gaps", *asked, at=late).stdout)
    assert (row["site"], row["property_number"], row["on"]) == ("alder", "", "2026-03-09")
    assert (row["period_from"], row["period_to"]) == ("2026-02-01", "2026-02-28")
    table = loaded("gaps", *asked, "--format", "table", at=late).stdout
    assert table == (
        "1 finding from Sun 1 Mar 2026 to Tue 31 Mar 2026: 1 chart returned late\n"
        "\n"
        "alder, Adams County, North\n"
        "chart returned late  Sun 1 Feb 2026 to Sat 28 Feb 2026\n"
        "    The charts came back on 2026-03-09, and the site's fifth open day after the\n"
        "    month was 2026-03-06; ask why, and note it:\n"
        "    dueward review alder 2026-02 --returned 2026-03-09 --note '...'\n"
    )


@pytest.mark.parametrize("command", ["review", "reviews"])
def test_the_help_has_examples(loaded: Dueward, command: str) -> None:
    result = loaded(command, "--help")

    assert result.exit_code == 0
    assert f"\n  Examples:\n    dueward {command} " in result.stdout
