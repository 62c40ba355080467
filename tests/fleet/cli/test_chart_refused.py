"""Where charts cannot be printed nothing is kept, no file stays, and the mend is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fleet.cli.conftest import FILES, Dueward, Prints
from tests.fleet.cli.printing import made, names

pytestmark = pytest.mark.usefixtures("undrawn")

REFUSED: dict[str, tuple[list[str], int, str]] = {
    "nothing named": (
        [],
        2,
        "chart: no unit is named; name property numbers, --site, --county, --region or --kind, or"
        " say --all\n",
    ),
    "all and some": (
        ["--all", "--site", "alder"],
        2,
        "--all: it does not go with alder; name units, sites, counties, regions or kinds, or say"
        " --all\n",
    ),
    "an unknown unit": (
        ["X-9"],
        2,
        "PROPERTY_NUMBER: no unit 'X-9'; they are A-1, B-1\n",
    ),
    "an unknown site": (["--site", "aldr"], 2, "--site: no site 'aldr'; did you mean 'alder'?\n"),
    "a unit elsewhere": (
        ["A-1", "--site", "birch"],
        2,
        "chart: no unit is all that was asked for; ask for less at once\n",
    ),
    "no year": (["A-1", "--year", "26"], 2, "--year: '26' is not a year; write it as YYYY\n"),
    "a year out of reach": (
        ["A-1", "--year", "2100"],
        2,
        "--year: 2100 is out of reach; give a year from 1950 to 2099\n",
    ),
    "a year before any unit": (
        ["--all", "--year", "2001"],
        2,
        "--year: no unit asked for was in service in 2001; give a year from 2026 on\n",
    ),
    "status with files": (
        ["--status", "--replace", "--html", "--paper", "a4"],
        2,
        "--paper: it does not go with --status; leave it or --status out\n"
        "--out: it does not go with --status; leave it or --status out\n"
        "--replace: it does not go with --status; leave it or --status out\n"
        "--html: it does not go with --status; leave it or --status out\n",
    ),
    "a chart of a day that is gone": (
        ["A-1", "--on", "2026-02-27"],
        2,
        "--on: it goes with --status and --cards only; leave it out: charts are of today;"
        " --known-at prints a copy as it was known then\n",
    ),
    "missing charts as known then": (
        ["--missing", "--known-at", "2026-03-01T00:00:00Z"],
        2,
        "--known-at: it does not go with --missing; leave it out: a copy takes the place of no"
        " chart that is missing\n",
    ),
    "missing cards": (
        ["--missing", "--cards"],
        2,
        "--missing: it does not go with --cards; leave it or --cards out\n",
    ),
    "check without status": (
        ["A-1", "--check"],
        2,
        "--check: it goes with --status only; say --status too, or leave it out\n",
    ),
    "a language of charts": (
        ["A-1", "--language", "es"],
        2,
        "--language: it goes with --cards only; leave it out: charts are in English, and cards"
        " (--cards) in en or es\n",
    ),
    "cards of a year": (
        ["--cards", "--year", "2026", "--known-at", "2026-03-01T00:00:00Z"],
        2,
        "--year: it does not go with --cards; leave it or --cards out\n"
        "--known-at: it does not go with --cards; leave it out: a card tells the rules of --on, as"
        " they are known now\n",
    ),
    "cards of units not in service": (
        ["--cards", "A-1", "--on", "2020-01-01"],
        2,
        "chart: none of the units chosen is in service and of a kind of the rule book; choose"
        " other units, or name a --kind\n",
    ),
}


@pytest.mark.parametrize(("words", "code", "told"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_printed_is_refused_with_the_mend(
    ready: Dueward, out: Path, prints: Prints, words: list[str], code: int, told: str
) -> None:
    result = ready("chart", *words, "--out", str(out))

    assert (result.exit_code, result.stderr, result.stdout) == (code, told, "")
    assert (prints(), out.exists()) == ([], False)


def with_tasks(dueward: Dueward, folder: Path, count: int) -> None:
    """Load a rule book that asks for so many more marks a day."""
    rule = '[[kind.microscope.rule]]\ntask = "t{0}"\ntitle = "T"\neach = "open-day"\n'
    rules = "".join(rule.format(n) + 'source = "no source"\n' for n in range(count))
    book = folder / "rules.toml"
    book.write_text(FILES["rules.toml"] + rules, encoding="utf-8")
    assert dueward("load", str(book)).exit_code == 0


def test_twenty_tasks_a_day_take_a_page_a_month_and_forty_have_no_place_on_paper(
    ready: Dueward, tmp_path: Path, out: Path, prints: Prints
) -> None:
    with_tasks(ready, tmp_path, 19)
    (row,) = made(ready, out, "A-1")
    with_tasks(ready, tmp_path, 39)

    result = ready("chart", "--all", "--out", str(out / "forty"))

    assert row["pages"] == 12
    assert (result.exit_code, len(prints()), names(out)) == (2, 1, ["chart-A-1-2026.pdf"])
    assert result.stderr == (
        "kind microscope: its chart has 41 rows a month and 1 line of boxes below them, and paper"
        " holds 28 rows of 5.0 mm with those; make one task of several that are done together, or"
        " let some of them be asked for each month instead of each day\n"
    )


def test_a_kind_that_has_no_place_on_paper_is_left_out_and_the_others_are_printed(
    ready: Dueward, tmp_path: Path, out: Path, prints: Prints
) -> None:
    folder = tmp_path / "more"
    folder.mkdir()
    rule = '[[kind.lamp.rule]]\ntask = "t{0}"\ntitle = "T"\neach = "open-day"\nsource = "none"\n'
    lamp = '[kind.lamp]\nname = "Lamp"\n' + "".join(rule.format(n) for n in range(40))
    (folder / "rules.toml").write_text(FILES["rules.toml"] + lamp, encoding="utf-8")
    units = "property_number,kind,site,in_service_on\nL-1,lamp,alder,2026-01-05\n"
    (folder / "units.csv").write_text(units, encoding="utf-8")
    assert ready("load", str(folder)).exit_code == 0

    told = [
        ready("chart", *words, "--out", str(out), "--format", "csv")
        for words in (["--all"], ["--missing"])
    ]

    assert [result.exit_code for result in told] == [1, 2]
    problem = (
        "kind lamp: its chart has 41 rows a month and 1 line of boxes below them, and paper holds"
        " 28 rows of 5.0 mm with those; make one task of several that are done together, or let"
        " some of them be asked for each month instead of each day\n"
    )
    assert [result.stderr for result in told] == [f"1 chart left out, {problem}", problem]
    assert [one.property_number for one in prints()] == ["A-1", "B-1"]
    assert names(out) == ["charts-2026.pdf"]


def test_a_folder_that_is_a_file_is_refused(ready: Dueward, out: Path, prints: Prints) -> None:
    out.write_text("mine", encoding="utf-8")

    result = ready("chart", "A-1", "--out", str(out))

    assert result.exit_code == 2
    assert result.stderr == (
        f"dueward chart: Invalid value for '--out': Directory '{out}' is a file; see dueward chart"
        " --help\n"
    )
    assert (prints(), out.read_text(encoding="utf-8")) == ([], "mine")


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (["A-1"], "chart-A-1-2026.pdf"),
        (["--all", "--each-site"], "charts-birch-2026.pdf"),
        (["A-1", "--html"], "chart-A-1-2026"),
        (["--cards"], "cards.pdf"),
    ],
)
def test_a_file_that_is_there_is_left_alone(
    ready: Dueward, out: Path, prints: Prints, words: list[str], name: str
) -> None:
    out.mkdir()
    (out / name).write_text("mine", encoding="utf-8")

    result = ready("chart", *words, "--out", str(out))

    assert result.exit_code == 2
    mend = "give another folder as --out, or say --replace"
    assert result.stderr == f"{out / name}: it is there already; {mend}\n"
    assert (prints(), names(out), (out / name).read_text()) == ([], [name], "mine")


def test_what_is_no_chart_is_not_replaced(ready: Dueward, out: Path, prints: Prints) -> None:
    (out / "chart-A-1-2026").mkdir(parents=True)
    (out / "chart-A-1-2026" / "letter.odt").write_text("mine", encoding="utf-8")
    (out / "chart-B-1-2026.pdf").mkdir()
    (out / "charts-alder-2026").write_text("mine", encoding="utf-8")
    before = names(out)

    told = [
        ready("chart", *words, "--html", "--replace", "--out", str(out)).stderr
        for words in (["A-1"], ["B-1"], ["--site", "alder"])
    ]

    mend = "give another folder as --out\n"
    assert told == [
        f"{out}/chart-A-1-2026: the folder holds other things than HTML pages; {mend}",
        f"{out}/chart-B-1-2026.pdf: it is a folder; {mend}",
        f"{out}/charts-alder-2026: it is a file; {mend}",
    ]
    assert (prints(), names(out)) == ([], before)


def test_a_page_of_a_former_printing_goes_when_its_folder_is_replaced(
    ready: Dueward, out: Path
) -> None:
    (out / "charts-alder-2026").mkdir(parents=True)
    (out / "charts-alder-2026" / "A-7-alder.html").write_text("gone", encoding="utf-8")

    made(ready, out, "--site", "alder", "--html", "--replace")

    assert names(out / "charts-alder-2026") == ["A-1-alder.html", "index.html"]
