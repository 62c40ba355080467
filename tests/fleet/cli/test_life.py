"""Does one unit's life, told in commands, stand in `due` and `gaps` after each act?"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.fleet.cli.conftest import FILES, Dueward

RULES = FILES["rules.toml"].replace("grace = 15", "grace = 15\nvendor = true") + (
    """
[[kind.microscope.rule]]
task = "alignment"
title = "Check the alignment"
every = "P6M"
due_after = ["moved", "repaired"]
source = "common practice, no source"

[[kind.microscope.rule]]
task = "lamp-check"
title = "Check the lamp"
each = "month"
stops_use = true
source = "common practice, no source"
"""
)


def noon(day: str) -> dt.datetime:
    return dt.datetime.combine(dt.date.fromisoformat(day), dt.time(18), dt.UTC)


class Bench:
    """Types commands on days in 2026, given as '03-02'."""

    def __init__(self, dueward: Dueward) -> None:
        self._dueward = dueward

    def run(self, day: str, words: str) -> Any:
        result = self._dueward(*words.split(), "--format", "json", at=noon(f"2026-{day}"))
        assert result.exit_code == 0, result.stderr
        return json.loads(result.stdout)

    def refused(self, day: str, words: str) -> str:
        result = self._dueward(*words.split(), at=noon(f"2026-{day}"))
        assert result.exit_code == 2, result.stdout
        assert result.stdout == ""
        return result.stderr.strip()

    def due(self, day: str, number: str) -> dict[str, str]:
        """Its tasks and states."""
        rows = self.run(day, "due")
        return {row["task"]: row["state"] for row in rows if row["property_number"] == number}

    def gaps(self, day: str, number: str) -> list[tuple[str, str, str]]:
        """The day, task and site of its findings since March began."""
        rows = self.run(day, f"gaps --from 2026-03-01 --to 2026-{day} --on 2026-{day}")
        return [
            (row["on"] or row["closes"], row["task"] or row["finding"], row["site"])
            for row in rows
            if row["property_number"] == number and row["finding"] in ("gap", "conflict")
        ]


@pytest.fixture
def bench(dueward: Dueward, files: Path) -> Bench:
    (files / "rules.toml").write_text(RULES, encoding="utf-8")
    result = dueward("load", str(files))
    assert result.exit_code == 0, result.stderr
    return Bench(dueward)


def test_the_whole_life_of_one_unit(bench: Bench) -> None:
    it_is_issued(bench)
    it_breaks_and_comes_back(bench)
    it_is_lent_and_renumbered(bench)
    it_is_put_off_and_retired(bench)


def it_is_issued(bench: Bench) -> None:
    issued = bench.run(
        "03-02",
        "issue C-1 --kind microscope --site alder --on 2026-03-02 --serviced-on 2026-02-20"
        " --initials OV",
    )
    assert issued["todo"] == ["A chart for 2026 is wanted: optics, lamp-check."]
    assert issued["next"] == [
        "optics: mark by Mon 2 Mar 2026",
        "annual-service: opens Wed 6 Jan 2027",
        "alignment: opens Wed 2 Sep 2026",
        "lamp-check: mark by Tue 31 Mar 2026",
    ]
    new = {"optics": "due", "lamp-check": "due"}
    assert bench.due("03-02", "C-1") == {
        **new,
        "annual-service": "upcoming",
        "alignment": "upcoming",
    }


def it_breaks_and_comes_back(bench: Bench) -> None:
    bench.run("03-02", "mark C-1 optics --on 2026-03-02 --as done --initials GR")
    bench.run("03-02", "mark C-1 lamp-check --on 2026-03-02 --as done --initials GR")
    broken = bench.run("03-02", "broken C-1 --why lamp")
    assert broken["from"] == "2026-03-03"
    assert set(bench.due("03-03", "C-1").values()) == {"out of service"}
    assert bench.gaps("03-05", "C-1") == []

    back = bench.run("03-05", "back C-1")
    assert back["todo"] == [
        "Before it is used: Check the alignment; then dueward mark C-1 alignment --on 2026-03-05"
        " --as done --initials ...",
        "Before it is used: Check the lamp; then dueward mark C-1 lamp-check --on 2026-03-05"
        " --as done --initials ...",
    ]
    assert bench.due("03-05", "C-1")["alignment"] == "due"
    bench.run("03-05", "mark C-1 alignment --on 2026-03-05 --as done --initials GR")
    assert bench.due("03-05", "C-1")["alignment"] == "upcoming"


def it_is_lent_and_renumbered(bench: Bench) -> None:
    bench.run("03-05", "move C-1 birch --on 2026-03-06 --until 2026-03-10")
    assert bench.due("03-06", "C-1")["alignment"] == "due"
    assert bench.gaps("03-11", "C-1") == [
        ("2026-03-05", "optics", "alder"),
        ("2026-03-10", "optics", "alder"),
        ("2026-03-06", "optics", "birch"),
        ("2026-03-09", "optics", "birch"),
    ]

    before = bench.due("03-11", "C-1")
    bench.run("03-11", "renumber C-1 D-1")
    assert bench.due("03-11", "D-1") == before
    assert bench.due("03-11", "C-1") == {}
    assert len(bench.gaps("03-11", "D-1")) == 4
    why = bench.run("03-11", "why C-1 annual-service")
    assert why["steps"][0].startswith("Unit D-1 (formerly C-1; microscope) has been in service")

    explained = "mark C-1 optics --on 2026-03-05 --as explained --note closed"
    assert bench.run("03-11", explained)["property_number"] == "D-1"
    assert len(bench.gaps("03-11", "D-1")) == 3


def it_is_put_off_and_retired(bench: Bench) -> None:
    assert bench.refused("10-01", "retire C-1 --on 2026-03-05") == (
        "unit D-1 is to move to birch on 2026-03-06; say --anyway if it is meant"
    )
    put_off = "extend C-1 alignment --until 2026-10-16 --why snow --by Noor"
    assert bench.due("10-01", "D-1")["alignment"] == "overdue"
    bench.run("10-01", put_off)
    assert bench.due("10-01", "D-1")["alignment"] == "due"
    assert bench.due("10-17", "D-1")["alignment"] == "overdue"

    retired = bench.run("10-17", "retire C-1 --on 2026-10-17")
    assert retired["said"] == ["Unit D-1 (formerly C-1) is retired from Sat 17 Oct 2026 on."]
    assert retired["keep_records_until"] == "2028-10-17"
    assert set(bench.due("10-17", "D-1").values()) == {"retired"}
    assert bench.refused("10-17", "mark C-1 optics --on 2026-10-17 --as done") == (
        "unit D-1 was retired on 2026-10-17; say --anyway if it is meant"
    )


def test_a_unit_whose_function_check_failed_is_not_back_before_a_pass(bench: Bench) -> None:
    # 42 CFR 493.1254(b)(2): function checks within limits before patients are tested.
    bench.run("03-02", "mark A-1 lamp-check --on 2026-03-02 --as done --failed --note flickers")
    assert set(bench.due("03-03", "A-1").values()) == {"out of service"}

    for words in ("back A-1", "back A-1 --anyway"):
        assert bench.refused("03-03", words) == (
            "back: unit A-1 failed 'lamp-check' and no pass is recorded since; function checks come"
            " before use (42 CFR 493.1254(b)(2)): mark the check as done once it passes, which"
            " brings the unit back: dueward mark A-1 lamp-check --on 2026-03-03 --as done"
        )

    bench.run("03-03", "mark A-1 lamp-check --on 2026-03-03 --as done --initials GR")
    assert bench.due("03-03", "A-1")["lamp-check"] == "done"


def test_a_site_closes_once_it_is_empty(bench: Bench) -> None:
    close = "close-site birch --on 2026-03-20 --why joined"
    assert bench.refused("03-04", close) == (
        "close-site birch: unit B-1 (microscope) stands there; dueward move B-1 SITE --on"
        " 2026-03-20, or dueward retire B-1 --on 2026-03-20"
    )

    bench.run("03-04", "move B-1 alder --on 2026-03-20")
    closed = bench.run("03-04", close)

    assert closed["said"] == [
        "Birch Hill Laboratory (birch) is closed for good from Fri 20 Mar 2026 on: joined."
    ]
    assert bench.due("03-04", "B-1")["annual-service"] == "due"
    assert bench.due("03-23", "B-1")["annual-service"] == "due"
    assert bench.run("03-23", close)["said"] == [
        "Birch Hill Laboratory (birch) was already closed for good from Fri 20 Mar 2026 on: joined."
    ]


def test_people_read_what_to_do_on_lines_of_their_own(loaded: Dueward) -> None:
    result = loaded("broken", "A-1", "--why", "lamp", "--format", "table")

    assert result.stdout == (
        "Unit A-1 is out of service from Mon 2 Mar 2026.\n"
        "Seen in the next digests by Lee Alderman (site lead) and Noor Northgate\n"
        "(consultant).\n"
        "\n"
        "To do:\n"
        "- Do not use it. Tag it 'out of service' with the day and your initials, so that\n"
        "  nobody does.\n"
        "- Leave repairs to people trained or licensed for them; follow the\n"
        "  manufacturer's manual, the site's safety officer and local rules.\n"
        "- When it is back:\n"
        "    dueward back A-1 --on DATE\n"
    )


@pytest.mark.parametrize(
    "words",
    [
        "issue C-1 --kind microscope --site nowhere --on 2026-03-02",
        "issue C-1 --kind microscope --site alder --on 2026-03-02 --serviced-on 2026-03-09",
        "move A-1 nowhere --on 2026-03-05",
        "broken X-1 --why lamp",
        "extend A-1 optics --until 2026-03-20 --why snow --by Noor",
        "renumber A-1 B-1",
        "retire A-1 --on 2025-01-06",
        "close-site birch --on 2026-03-20 --why joined",
    ],
)
def test_what_is_refused_is_told_in_one_line_and_leaves_nothing(
    bench: Bench, dueward: Dueward, words: str
) -> None:
    before = picture(dueward)

    assert "\n" not in bench.refused("03-02", words)
    assert picture(dueward) == before


def picture(dueward: Callable[..., Any]) -> str:
    stdout: str = dueward("due", "--format", "json").stdout
    return stdout
