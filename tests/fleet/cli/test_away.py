"""`dueward away`: who is away, from when to when, and who reads their mail."""

from __future__ import annotations

import json

import pytest

from tests.fleet.cli.conftest import Dueward

LEAD, NORTH = "lead@alder.example", "north@bench.example"
SPAN = ("--from", "2026-03-04", "--to", "2026-03-06")


def test_an_absence_is_noted_shortened_and_taken_back(loaded: Dueward) -> None:
    assert loaded("away", "--format", "table").stdout == "Nobody is away.\n"

    noted = loaded("away", LEAD, *SPAN, "--deputy", NORTH)
    assert json.loads(noted.stdout) == [
        {"email": LEAD, "from": "2026-03-04", "to": "2026-03-06", "deputy": NORTH}
    ]
    assert loaded("away", "--format", "table").stdout == (
        "lead@alder.example  Wed 4 Mar 2026 to Fri 6 Mar 2026  deputy north@bench.example\n"
    )
    back = loaded("away", LEAD, "--back", "2026-03-06")
    assert json.loads(back.stdout)[0]["to"] == "2026-03-05"
    loaded("away", LEAD, "--back", "2026-03-04")
    assert loaded("away").stdout == "[]\n"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ("nobody@bench.example", *SPAN),
            "dueward away, email: nobody has the address 'nobody@bench.example'; add it to people,"
            " or correct the address\n",
        ),
        (
            (LEAD, "--from", "2026-03-06", "--to", "2026-03-04"),
            "dueward away, to: 2026-03-04 is before --from 2026-03-06; check both dates\n",
        ),
        (
            (LEAD, *SPAN, "--deputy", LEAD),
            "dueward away, deputy: it is the one who is away; name somebody else\n",
        ),
        (
            (LEAD, "--back", "2026-03-06"),
            "dueward away, back: lead@alder.example is not away on 2026-03-06; see dueward away for"
            " who is\n",
        ),
        (
            SPAN,
            "EMAIL: nobody is named; say who: dueward away ADDRESS --from DATE --to DATE\n",
        ),
        (
            (LEAD, *SPAN, "--back", "2026-03-06"),
            "dueward away: --back says when it ends; give --back alone to end an absence\n",
        ),
        (
            ("LEAD@alder.example", *SPAN),
            "dueward away, email: nobody has the address 'LEAD@alder.example'; add it to people,"
            " or correct the address\n",
        ),
        (
            (LEAD, "--from", "2026-03-06"),
            "dueward away: it is not said when; give both --from and --to, or --back\n",
        ),
    ],
)
def test_what_cannot_be_is_said_with_the_mend(
    loaded: Dueward, words: tuple[str, ...], message: str
) -> None:
    result = loaded("away", *words)

    assert (result.exit_code, result.stdout, result.stderr) == (2, "", message)
