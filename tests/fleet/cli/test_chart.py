"""Are charts printed as files, kept in the record, and is it said what to do with them?"""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
import re
from pathlib import Path

import pypdfium2
import pytest

from tests.fleet.cli.conftest import FILES, NOON, Dueward, Prints
from tests.fleet.cli.printing import made, names


def load(dueward: Dueward, folder: Path, **tables: str) -> None:
    folder.mkdir()
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    result = dueward("load", str(folder))
    assert result.exit_code == 0, result.stderr


def test_a_chart_is_a_pdf_and_a_print_of_the_same_number(
    ready: Dueward, out: Path, prints: Prints
) -> None:
    (row,) = made(ready, out, "A-1")

    (kept,) = prints()
    assert re.fullmatch("[0-9A-Z]{8}", kept.number)
    assert row == {
        "property_number": "A-1",
        "site": "alder",
        "year": 2026,
        "print": kept.number,
        "pages": 4,
        "replaces": None,
        "differs": None,
        "file": str(out / "chart-A-1-2026.pdf"),
    }
    assert (kept.property_number, kept.site, kept.year) == ("A-1", "alder", 2026)
    assert (str(kept.printed_on), kept.replaces, kept.known_at) == ("2026-03-02", "", "")
    assert names(out) == ["chart-A-1-2026.pdf"]
    with pypdfium2.PdfDocument(out / "chart-A-1-2026.pdf") as pdf:  # PDFium, not our writer
        texts = [page.get_textpage().get_text_bounded() for page in pdf]
        sizes = {page.get_size() for page in pdf}
    assert len(texts) == 4
    assert all(kept.number in text for text in texts)
    assert sizes == {(792.0, 612.0)}  # ANSI/ASME Y14.1: letter is 11 x 8.5 inches


def test_paper_may_be_a4(ready: Dueward, out: Path, prints: Prints) -> None:
    made(ready, out, "A-1", "--paper", "a4")

    with pypdfium2.PdfDocument(out / "chart-A-1-2026.pdf") as pdf:
        width, height = pdf[0].get_size()
    assert (round(width * 25.4 / 72), round(height * 25.4 / 72)) == (297, 210)  # ISO 216
    assert [one.paper for one in prints()] == ["a4"]


@pytest.mark.usefixtures("undrawn")
def test_the_file_is_called_after_what_was_named(ready: Dueward, out: Path) -> None:
    asked = {
        "chart-B-1-2026.pdf": ["B-1"],
        "chart-B-1-birch-2026.pdf": ["B-1", "--site", "BIRCH"],
        "charts-alder-2026.pdf": ["--site", "ALDER"],
        "charts-Boone-2026.pdf": ["--county", "boone"],
        "charts-North-2026.pdf": ["--region", "North"],
        "charts-microscope-2026.pdf": ["--kind", "microscope"],
        "charts-South-microscope-2026.pdf": ["--kind", "microscope", "--region", "South"],
        "charts-2026.pdf": ["--all"],
    }
    for name, words in asked.items():
        assert {row["file"] for row in made(ready, out, *words)} == {str(out / name)}
    rows = made(ready, out, "A-1", "B-1", "--replace")

    assert [row["file"] for row in rows] == [str(out / "charts-2026.pdf")] * 2
    assert names(out) == sorted(asked)


@pytest.mark.usefixtures("undrawn")
def test_the_year_is_the_one_named_or_this_one(ready: Dueward, out: Path) -> None:
    assert [row["year"] for row in made(ready, out, "A-1")] == [2026]
    assert [row["year"] for row in made(ready, out, "A-1", "--year", "2027")] == [2027]


@pytest.mark.usefixtures("undrawn")
def test_each_site_may_have_a_file_of_its_own(ready: Dueward, out: Path) -> None:
    rows = made(ready, out, "--all", "--each-site")

    assert [(row["property_number"], Path(row["file"]).name) for row in rows] == [
        ("A-1", "charts-alder-2026.pdf"),
        ("B-1", "charts-birch-2026.pdf"),
    ]
    assert names(out) == ["charts-alder-2026.pdf", "charts-birch-2026.pdf"]


def test_a_unit_that_moves_has_a_chart_at_each_site(
    ready: Dueward, out: Path, tmp_path: Path
) -> None:
    load(ready, tmp_path / "more", placements="property_number,site,from\nA-1,birch,2026-07-01\n")

    rows = made(ready, out, "A-1")

    assert [(row["site"], Path(row["file"]).name) for row in rows] == [
        ("alder", "chart-A-1-2026.pdf"),
        ("birch", "chart-A-1-2026.pdf"),
    ]
    with pypdfium2.PdfDocument(out / "chart-A-1-2026.pdf") as pdf:
        assert len(pdf) == sum(row["pages"] for row in rows)


@pytest.mark.usefixtures("undrawn")
def test_names_that_no_file_may_have_are_made_safe_and_stay_apart(
    ready: Dueward, out: Path, tmp_path: Path
) -> None:
    odd = [".././É/1", "C:\\x", "😀", "ж" * 64, "A/1", "A_1", "A:1"]
    rows = "".join(f"{number},microscope,alder,2026-01-05\n" for number in odd)
    units = f"property_number,kind,site,in_service_on\n{rows}"
    load(ready, tmp_path / "more", units=units)

    named = [".././É/1", "ж" * 64, "A/1", "A_1"]
    for number in named:
        made(ready, out, number, "--replace")
    made(ready, out, "--site", "alder", "--html")

    kept = ["_._É_1", "C_x", "_", "ж" * 48, "A_1", "A_1", "A_1"]
    hashes = [hashlib.sha256(number.encode()).hexdigest()[:6] for number in odd]
    stems = [f"{name}-{code}" for name, code in zip(kept, hashes, strict=True)]
    stems[odd.index("A_1")] = "A_1"
    assert [name for name in names(out) if name.startswith("chart-")] == sorted(
        f"chart-{stems[odd.index(number)]}-2026.pdf" for number in named
    )
    pages = {path.name for path in (out / "charts-alder-2026").iterdir()}
    assert pages == {"A-1-alder.html", "index.html", *(f"{name}-alder.html" for name in stems)}


@pytest.mark.usefixtures("undrawn")
def test_html_twins_stand_in_a_folder_and_a_page_leads_to_each(ready: Dueward, out: Path) -> None:
    rows = made(ready, out, "--all", "--html")

    folder = out / "charts-2026"
    assert names(out) == [
        *("charts-2026", "charts-2026.pdf"),
        *(f"charts-2026/{name}.html" for name in ("A-1-alder", "B-1-birch", "index")),
    ]
    index = (folder / "index.html").read_text(encoding="utf-8")
    assert re.findall('href="([^"]+)"', index) == ["A-1-alder.html", "B-1-birch.html"]
    assert rows[0]["print"] in (folder / "A-1-alder.html").read_text(encoding="utf-8")


@pytest.mark.usefixtures("undrawn")
def test_a_chart_printed_again_takes_the_place_of_the_former_and_tells_what_differs(
    ready: Dueward, out: Path, tmp_path: Path, prints: Prints
) -> None:
    (first,) = made(ready, out, "A-1", "--html")
    (same,) = made(ready, out, "A-1", "--replace", "--html")
    closed = "site,from,to,reason\nalder,2026-08-03,2026-08-07,flood\n"
    load(ready, tmp_path / "more", closures=closed)
    result = ready("chart", "A-1", "--replace", "--out", str(out), "--format", "table")

    assert [same["replaces"], same["differs"]] == [first["print"], None]
    last = prints()[-1]
    assert last.replaces == same["print"]
    assert result.stdout == (
        "1 chart of 2026, 4 pages:\n"
        f"    {out}/chart-A-1-2026.pdf\n"
        "\n"
        f"A-1  alder  4 pages  print {last.number}  in the place of {last.replaces}\n"
        "\n"
        "1 chart differs from the one printed before\n"
        "A-1  alder  days now closed: 3 to 7 Aug (closure: flood)\n"
        "\n"
        "Print at 100 %, landscape; hang each chart by its unit.\n"
        "Where an old chart hangs, take it down and return it: what stands on it counts.\n"
    )


@pytest.mark.usefixtures("undrawn")
def test_a_lead_is_told_what_to_do_next(ready: Dueward, out: Path, prints: Prints) -> None:
    result = ready("chart", "--site", "alder", "--out", str(out), "--format", "table")

    assert result.stdout == (
        "1 chart of 2026, 4 pages:\n"
        f"    {out}/charts-alder-2026.pdf\n"
        "\n"
        f"A-1  alder  4 pages  print {prints()[0].number}\n"
        "\n"
        "Print at 100 %, landscape; hang each chart by its unit.\n"
    )


@pytest.mark.usefixtures("undrawn")
def test_charts_of_a_year_that_is_over_are_not_for_the_wall(ready: Dueward, out: Path) -> None:
    words = ("chart", "A-1", "--year", "2026", "--out", str(out), "--format", "table")
    a_year_later = dt.datetime(2027, 3, 2, 18, tzinfo=dt.UTC)

    assert ready(*words, at=a_year_later).stdout.endswith(
        "\n\nThe year is over: print them for the file, and hang none of them up.\n"
    )


@pytest.mark.usefixtures("undrawn")
def test_many_charts_are_counted_not_listed(ready: Dueward, out: Path, tmp_path: Path) -> None:
    rows = "".join(f"C-{n:02},microscope,alder,2026-01-05\n" for n in range(12))
    load(ready, tmp_path / "more", units=f"property_number,kind,site,in_service_on\n{rows}")

    words = ("chart", "--all", "--each-site", "--out", str(out), "--format", "table")
    result = ready(*words)

    assert result.stdout == (
        "14 charts of 2026, 56 pages, in 2 files, one a site:\n"
        f"    {out}\n"
        "\n"
        "Print at 100 %, landscape; hang each chart by its unit.\n"
    )


@pytest.mark.usefixtures("undrawn")
def test_a_copy_as_known_then_takes_no_place(ready: Dueward, out: Path, prints: Prints) -> None:
    made(ready, out, "A-1")
    words = ("--known-at", NOON.isoformat(), "--replace", "--out", str(out), "--format", "table")
    result = ready("chart", "A-1", *words)
    (third,) = made(ready, out, "A-1", "--replace")

    first, copy, last = prints()
    assert (copy.replaces, copy.known_at) == ("", NOON.isoformat())
    assert third["replaces"] == last.replaces == first.number
    assert result.stdout.endswith(
        "\nCopies for the file, as the record was known then: hang none of them up.\n"
    )


@pytest.mark.usefixtures("undrawn")
def test_a_kind_without_cells_is_passed_over_aloud(
    ready: Dueward, out: Path, tmp_path: Path
) -> None:
    book = FILES["rules.toml"] + (
        '[kind.lamp]\nname = "Lamp"\n[[kind.lamp.rule]]\ntask = "safety"\ntitle = "Look"\n'
        'every = "P1Y"\nsource = "common practice, no source"\n'
    )
    folder = tmp_path / "more"
    folder.mkdir()
    (folder / "rules.toml").write_text(book, encoding="utf-8")
    unit = "property_number,kind,site,in_service_on\nL-1,lamp,alder,2026-01-05\n"
    (folder / "units.csv").write_text(unit, encoding="utf-8")
    assert ready("load", str(folder)).exit_code == 0

    result = ready("chart", "--site", "alder", "--out", str(out), "--format", "csv")

    assert [row["property_number"] for row in csv.DictReader(io.StringIO(result.stdout))] == ["A-1"]
    assert result.stderr == (
        "1 unit of kind lamp has nothing to mark by day, week or month, so no chart: what is due"
        " of it by date is in `dueward due --kind lamp`\n"
    )


def test_cards_are_those_of_the_kinds_and_change_nothing(
    ready: Dueward, out: Path, prints: Prints
) -> None:
    (row,) = made(ready, out, "--cards", "--site", "alder")
    table = ready(
        *("chart", "--cards", "--kind", "microscope", "--language", "es", "--out", str(out)),
        *("--replace", "--format", "table"),
    )

    assert row == {
        "kind": "microscope",
        "name": "Bench microscope",
        "language": "en",
        "tasks": 2,
        "file": str(out / "cards.pdf"),
    }
    assert table.stdout.splitlines()[:2] == ["1 card: microscope", f"    {out}/cards.pdf"]
    with pypdfium2.PdfDocument(out / "cards.pdf") as pdf:
        assert len(pdf) == 1
    assert prints() == []
