"""What are prints to the other commands? Evidence, and never a change of what is due or signed."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import zipfile
from pathlib import Path

import pypdfium2
import pytest

from tests.fleet.cli.conftest import NOON, Dueward, Prints
from tests.fleet.cli.printing import made

pytestmark = pytest.mark.usefixtures("undrawn")
LATER = NOON + dt.timedelta(days=40)


def test_a_print_is_no_finding_and_reopens_no_month(ready: Dueward, tmp_path: Path) -> None:
    words = ("review", "alder", "2026-02", "--by", "Noor Northgate", "--returned", "2026-03-01")
    assert ready(*words).exit_code == 0
    span = ("gaps", "--from", "2025-01-01", "--to", "2026-12-31", "--format", "json")
    before = ready(*span, at=LATER).stdout

    assert ready("chart", "--all", "--out", str(tmp_path / "charts"), at=LATER).exit_code == 0

    reviews = json.loads(ready("reviews", "--format", "json", at=LATER).stdout)
    states = {(row["site"], row["month"]): row["state"] for row in reviews}
    assert states["alder", "2026-02"] == "signed"
    assert ready(*span, at=LATER).stdout == before


def test_a_packet_shows_what_was_printed_at_its_site(
    ready: Dueward, tmp_path: Path, prints: Prints
) -> None:
    made(ready, tmp_path / "charts", "--all")
    made(ready, tmp_path / "charts", "A-1", "--year", "2027")
    words = ("--from", "2026-02-01", "--to", "2026-02-28", "--out", str(tmp_path / "out"))
    answer = json.loads(ready("packet", "alder", *words, "--format", "json").stdout)

    with zipfile.ZipFile(answer["zip"]) as archive:
        rows = list(csv.DictReader(io.StringIO(archive.read("prints.csv").decode())))
        lines = archive.read("lines.tsv").decode()
    kept, of_birch, next_year = prints()
    assert [(row["number"], row["cells"]) for row in rows] == [(kept.number, kept.cells)]
    assert [one.number in lines for one in (kept, of_birch, next_year)] == [True, False, True]
    with pypdfium2.PdfDocument(answer["pdf"]) as pdf:
        text = "\n".join(page.get_textpage().get_text_bounded() for page in pdf)
    assert "Charts printed" in text
    assert kept.number in text
    assert kept.cells[:40] not in text


def test_prints_come_through_an_export_and_charts_stay_in_hand(
    ready: Dueward, tmp_path: Path
) -> None:
    made(ready, tmp_path / "charts", "--all")
    made(ready, tmp_path / "charts", "A-1", "--replace")
    assert ready("export", str(tmp_path / "copy")).exit_code == 0
    other = ("--database", f"sqlite:///{tmp_path / 'other.db'}")

    assert ready("load", str(tmp_path / "copy"), *other).exit_code == 0
    verified = json.loads(ready("verify", "--rebuild", *other, "--format", "json").stdout)
    status = ready("chart", "--status", "--check", *other, "--format", "table")

    assert (verified["whole"], verified["flaws"]) == (True, [])
    assert (status.exit_code, status.stdout) == (0, "Every unit has its chart of 2026 in hand.\n")


def test_a_chart_of_a_renumbered_unit_takes_the_place_of_that_under_its_former_number(
    ready: Dueward, tmp_path: Path, prints: Prints
) -> None:
    (first,) = made(ready, tmp_path / "charts", "A-1")
    assert ready("renumber", "A-1", "A-9", "--on", "2026-03-02").exit_code == 0

    (second,) = made(ready, tmp_path / "charts", "A-1")

    assert (second["property_number"], second["replaces"]) == ("A-9", first["print"])
    assert Path(second["file"]).name == "chart-A-9-2026.pdf"
    assert [one.property_number for one in prints()] == ["A-9", "A-9"]
