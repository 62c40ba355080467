"""Is it told who has no current chart, and are exactly those charts printed?"""

from __future__ import annotations

import datetime as dt
import json
import shlex
from pathlib import Path

import pytest

from tests.fleet.cli.conftest import NOON, Dueward, Prints
from tests.fleet.cli.printing import made, names

pytestmark = pytest.mark.usefixtures("undrawn")
IN_DECEMBER = dt.datetime(2026, 12, 7, 18, tzinfo=dt.UTC)


def moved(dueward: Dueward, folder: Path) -> None:
    """Let A-1 stand at birch from July on."""
    folder.mkdir()
    text = "property_number,site,from\nA-1,birch,2026-07-01\n"
    (folder / "placements.csv").write_text(text, encoding="utf-8")
    assert dueward("load", str(folder)).exit_code == 0


def with_units(dueward: Dueward, folder: Path, *rows: str) -> None:
    folder.mkdir()
    told = "".join(f"{row},2026-01-05\n" for row in rows)
    text = f"property_number,kind,site,in_service_on\n{told}"
    (folder / "units.csv").write_text(text, encoding="utf-8")
    assert dueward("load", str(folder)).exit_code == 0


def test_status_tells_who_has_no_chart_until_it_is_printed(ready: Dueward, out: Path) -> None:
    before = ready("chart", "--status", "--check", "--format", "table")
    made(ready, out, "A-1")
    rows = ready("chart", "--status", "--check", "--format", "csv")
    made(ready, out, "B-1")
    after = ready("chart", "--status", "--check", "--format", "table")

    assert (before.exit_code, rows.exit_code, after.exit_code) == (3, 3, 0)
    assert before.stdout == (
        "2 charts to print: 2 new unit\n"
        "    dueward chart --missing --out charts\n"
        "\n"
        "alder, Adams County, North\n"
        "A-1  2026  new unit\n"
        "    dueward chart A-1 --site alder --year 2026\n"
        "\n"
        "birch, Boone County, South\n"
        "B-1  2026  new unit\n"
        "    dueward chart B-1 --site birch --year 2026\n"
    )
    assert rows.stdout == (
        "site,county,region,property_number,kind,year,reason,print,printed_on,differs\n"
        "birch,Boone,South,B-1,microscope,2026,new unit,,,\n"
    )
    assert after.stdout == "Every unit has its chart of 2026 in hand.\n"


def test_status_looks_at_the_units_and_the_year_that_are_named(ready: Dueward) -> None:
    words = ("chart", "--status", "--format", "json")

    assert [row["year"] for row in json.loads(ready(*words, "A-1", "--year", "2027").stdout)] == [
        2027
    ]
    assert json.loads(ready(*words, "A-1", "--site", "birch").stdout) == []
    assert ready(*words, "X-9").stderr == "PROPERTY_NUMBER: no unit 'X-9'; they are A-1, B-1\n"


def test_the_commands_of_a_status_are_narrowed_as_it_is(ready: Dueward, tmp_path: Path) -> None:
    with_units(ready, tmp_path / "more", "A-2,microscope,alder")
    words = ("--region", "North", "--region", "South", "--kind", "microscope", "--year", "2026")

    told = ready("chart", "--status", *words, "--format", "table").stdout
    numbers = ready("chart", "--status", "A-2", "B-1", "--format", "table").stdout

    assert [line.strip() for line in told.splitlines() if "dueward" in line] == [
        "dueward chart --missing --region North --region South --kind microscope --year 2026 --out"
        " charts",
        "dueward chart --missing --site alder --kind microscope --year 2026",
        "dueward chart B-1 --site birch --year 2026",
    ]
    assert numbers.splitlines()[1] == "    dueward chart A-2 B-1 --missing --out charts"


def test_what_the_status_lists_is_printed_and_no_other_chart(
    ready: Dueward, tmp_path: Path, out: Path, prints: Prints, monkeypatch: pytest.MonkeyPatch
) -> None:
    made(ready, out, "A-1")
    moved(ready, tmp_path / "more")
    monkeypatch.chdir(tmp_path)
    told = json.loads(ready("chart", "--status").stdout)
    table = ready("chart", "--status", "--format", "table").stdout.splitlines()
    (command,) = (line.strip() for line in table if "dueward" in line)

    rows = json.loads(ready(*shlex.split(command)[1:], "--format", "json").stdout)

    listed = [(row["property_number"], row["site"], row["reason"]) for row in told]
    assert listed == [("A-1", "birch", "moved"), ("B-1", "birch", "new unit")]
    assert [(row["property_number"], row["site"]) for row in rows] == [one[:2] for one in listed]
    assert (tmp_path / "charts-birch-2026-missing-2026-03-02.pdf").is_file()
    assert json.loads(ready("chart", "--status").stdout) == []
    assert [one.site for one in prints()] == ["alder", "birch", "birch"]


def test_a_chart_that_hangs_as_it_should_is_not_printed_again(
    ready: Dueward, tmp_path: Path, out: Path, prints: Prints
) -> None:
    moved(ready, tmp_path / "more")
    made(ready, out, "A-1", "--site", "alder")

    rows = made(ready, out, "A-1", "--missing")

    assert [(row["site"], row["replaces"]) for row in rows] == [("birch", None)]
    assert [one.site for one in prints()] == ["alder", "birch"]


def test_in_december_each_year_has_a_file(ready: Dueward, out: Path) -> None:
    words = ("chart", "--missing", "--region", "North", "--out", str(out), "--format", "table")

    first, again = ready(*words, at=IN_DECEMBER), ready(*words, at=IN_DECEMBER)

    assert names(out) == [
        "charts-North-2026-missing-2026-12-07.pdf",
        "charts-North-2027-missing-2026-12-07.pdf",
    ]
    head, _, _, *lines = first.stdout.splitlines()
    assert head == "2 charts of 2026 and 2027, 8 pages, in 2 files, one a year:"
    assert [line.split()[:3] for line in lines[:2]] == [
        ["A-1", "alder", "2026"],
        ["A-1", "alder", "2027"],
    ]
    assert (again.exit_code, again.stdout) == (0, "Every unit has its chart of 2026 in hand.\n")


def test_where_none_is_missing_no_file_is_made(ready: Dueward, out: Path, prints: Prints) -> None:
    made(ready, out, "--all")

    assert made(ready, out / "none", "--missing") == []
    assert ((out / "none").exists(), len(prints())) == (False, 2)


def test_missing_charts_may_have_a_file_a_site_and_year(ready: Dueward, out: Path) -> None:
    words = ("chart", "--missing", "--each-site", "--out", str(out), "--format", "table")

    head, *_ = ready(*words, at=IN_DECEMBER).stdout.splitlines()

    assert head == "4 charts of 2026 and 2027, 16 pages, in 4 files, one a site and year:"
    assert names(out) == [
        f"charts-{site}-{year}-missing-2026-12-07.pdf"
        for site in ("alder", "birch")
        for year in (2026, 2027)
    ]


@pytest.mark.parametrize("door", ["--status", "--missing"])
def test_of_a_year_that_is_over_no_chart_is_missing(ready: Dueward, door: str) -> None:
    result = ready("chart", door, "--year", "2025", at=NOON)

    assert (result.exit_code, result.stdout, result.stderr) == (
        *(2, ""),
        "--year: the year 2025 is over; its charts are history: dueward chart --year 2025 prints"
        " them\n",
    )
