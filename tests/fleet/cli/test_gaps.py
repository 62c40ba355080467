"""What does `dueward gaps` print, and when does it refuse?"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from pathlib import Path

import pytest

from fleet.cli.findings_table import findings_table
from fleet.domain.answers import FindingRow
from tests.fleet.cli.conftest import Dueward

COLUMNS = [
    *("site", "county", "region", "property_number", "kind", "task", "finding"),
    *("period_from", "period_to", "opens", "closes", "on", "entries", "settle"),
]
"""Design section 6."""
FEBRUARY = ("gaps", "--from", "2026-02-01", "--to", "2026-02-28")


def test_columns_are_those_of_the_contract_in_their_order(loaded: Dueward) -> None:
    assert [field.name for field in dataclasses.fields(FindingRow)] == COLUMNS
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


def test_a_site_that_never_opens_hides_no_finding_of_another(dueward: Dueward, files: Path) -> None:
    """The audit rolls no date that must be answered, so no unit can fail in it as in `due`."""
    (files / "closures.csv").write_text(
        "site,from,to,reason\nalder,2024-01-01,2030-12-31,rebuilding\n", encoding="utf-8"
    )
    dueward("load", str(files))

    result = dueward(*FEBRUARY, "--finding", "gap")

    assert (result.exit_code, result.stderr) == (0, "")
    told = [(row["property_number"], row["closes"]) for row in json.loads(result.stdout)]
    assert told == [("B-1", "2026-02-26"), ("B-1", "2026-02-27")]
    assert dueward("due").exit_code == 1


def test_the_table_tells_site_by_site_what_is_missing(loaded: Dueward) -> None:
    assert loaded(*FEBRUARY, "--finding", "gap", "--format", "table").stdout == (
        "2 findings from Sun 1 Feb 2026 to Sat 28 Feb 2026: 2 gaps\n"
        "\n"
        "birch, Boone County, South\n"
        "gap  2 times, Thu 26 Feb 2026 to Fri 27 Feb 2026  B-1  optics\n"
        "    Say why 2026-02-26 has no mark (the others alike):\n"
        "    dueward mark B-1 optics --on 2026-02-26 --as explained --note '...'\n"
    )


def finding(name: str, settle: str) -> FindingRow:
    names = ("alder", "Adams", "North", "A-1", "microscope", "optics", name)
    day = dt.date(2026, 2, 26)
    return FindingRow(*names, None, None, None, None, day, None, settle)


def test_a_command_to_copy_has_a_line_of_its_own_however_long_it_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    long = "dueward mark A-1 optics --on 2026-02-26 --as explained --note '...' --initials ..."
    again = "dueward mark A-1 optics --on 2026-02-26 --as done --initials ..."
    anew = f"strike it and mark it anew: dueward strike k --why '...', then {again}"
    typed = "Struck on 2026-02-26 (it said: dueward strike k); review whether that is right."
    rows = [
        finding("gap", f"Say why 2026-02-26 has no mark: {long}"),
        finding("no initials", f"Ask who made it, {anew}"),
        finding("corrected", typed),
    ]

    assert findings_table(rows, dt.date(2026, 2, 1), dt.date(2026, 2, 28)) == (
        "3 findings from Sun 1 Feb 2026 to Sat 28 Feb 2026: 1 gap, 1\n"
        "no initials and 1 corrected\n"
        "\n"
        "alder, Adams County, North\n"
        "gap          Thu 26 Feb 2026  A-1  optics\n"
        "    Say why 2026-02-26 has no mark:\n"
        f"    {long}\n"
        "no initials  Thu 26 Feb 2026  A-1  optics\n"
        "    Ask who made it, strike it and mark it anew:\n"
        "    dueward strike k --why '...'\n"
        f"    {again}\n"
        "corrected    Thu 26 Feb 2026  A-1  optics\n"
        "    Struck on 2026-02-26 (it said: dueward strike k); review\n"
        "    whether that is right.\n"
    )


def test_findings_with_words_of_their_own_are_told_one_by_one_also_those_of_no_site() -> None:
    rows = [
        dataclasses.replace(finding("backdated", words), site="", county="", region="")
        for words in ("The first came late: dueward due.", "The second came late.")
    ]

    assert findings_table(rows, dt.date(2026, 2, 1), dt.date(2026, 2, 28)) == (
        "2 findings from Sun 1 Feb 2026 to Sat 28 Feb 2026: 2 backdated\n"
        "\n"
        "All sites\n"
        "backdated  Thu 26 Feb 2026  A-1  optics\n"
        "    The first came late: dueward due.\n"
        "backdated  Thu 26 Feb 2026  A-1  optics\n"
        "    The second came late.\n"
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
            " no initials, corrected, backdated, chart returned late",
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
