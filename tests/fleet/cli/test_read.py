"""Charts that were printed, written on and scanned, read back by the command."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest
from PIL import Image

from fleet.charts.geometry import origin
from fleet.charts.places import Place
from fleet.charts.reading.pages import open_places
from tests.fleet.charts.reading.sheets import DPI, tick
from tests.fleet.cli.conftest import NOON, Dueward, Prints
from tests.fleet.cli.printing import made

TOLD = {"file", "sheet", "unit", "site", "year", "page", "task", "turn", "date", "to"}
TOLD |= {"verdict", "confidence", "reason", "record"}
EMPTY = {"2026-03-04", "2026-03-25"}
APRIL = NOON + dt.timedelta(days=31)
"""When the days of the page are over."""


@pytest.fixture
def scan(ready: Dueward, out: Path, prints: Prints) -> Path:
    """The first page of A-1's chart with a tick in each open cell of optics but two."""
    made(ready, out, "A-1")
    (kept,) = prints()
    shown = page_of(out / "chart-A-1-2026.pdf", 1)
    for place in open_places(kept, 1):
        if day_of(place) not in EMPTY:
            tick(shown, place)
    path = out / "scan.png"
    Image.fromarray(shown).save(path, dpi=(DPI, DPI))
    return path


def page_of(path: Path, number: int) -> np.ndarray:
    with pypdfium2.PdfDocument(path) as pdf:
        drawn = pdf[number - 1].render(scale=DPI / 72, grayscale=True).to_numpy()
    return np.ascontiguousarray(drawn.reshape(drawn.shape[:2]))


def day_of(place: Place) -> str:
    return f"2026-{place.month:02d}-{place.first:02d}"


def rows(dueward: Dueward, *words: str, code: int = 0) -> list[dict[str, object]]:
    result = dueward("read", *words, "--format", "json", at=APRIL)
    assert result.exit_code == code, result.stderr
    found: list[dict[str, object]] = json.loads(result.stdout)
    return found


def test_each_cell_that_was_printed_open_is_a_row(ready: Dueward, scan: Path) -> None:
    found = rows(ready, str(scan))

    assert {frozenset(one) for one in found} == {frozenset(TOLD)}
    assert {(one["unit"], one["year"], one["page"], one["task"]) for one in found} == {
        ("A-1", 2026, 1, "optics")
    }
    assert {one["date"] for one in found if one["verdict"] == "blank"} == EMPTY
    assert {one["verdict"] for one in found} == {"blank", "marked"}
    assert all(one["date"] == one["to"] and one["record"] == "asked" for one in found)
    assert all(isinstance(one["confidence"], float) for one in found)
    weekdays = {f"2026-03-{day:02d}" for day in range(2, 32)} & {str(one["date"]) for one in found}
    assert len(weekdays) == 22


def test_a_cell_whose_day_was_over_when_it_was_printed_is_read_too(
    ready: Dueward, out: Path
) -> None:
    """B-1 has no mark of 26 and 27 February; its chart is printed on 2 March."""
    made(ready, out, "B-1")
    path = out / "page.png"
    Image.fromarray(page_of(out / "chart-B-1-2026.pdf", 1)).save(path)

    blank = {one["date"] for one in rows(ready, str(path)) if one["verdict"] == "blank"}

    assert {"2026-02-26", "2026-02-27"} <= blank
    assert "2026-02-25" not in blank, "the mark that the record held is printed there"


def test_nothing_is_written(ready: Dueward, scan: Path) -> None:
    before = ready("gaps", "--format", "json").stdout
    rows(ready, str(scan))
    assert ready("gaps", "--format", "json").stdout == before


def test_for_people_the_empty_days_are_told_by_task(ready: Dueward, scan: Path) -> None:
    text = ready("read", str(scan), "--format", "table", at=APRIL).stdout

    assert text.startswith("1 page read, 2 empty cells, 0 to look at\n")
    assert "scan.png, page 1: A-1 at alder, 2026, page 1" in text
    assert "empty  Clean the optical surfaces, top down  4 Mar, 25 Mar" in text


def test_an_empty_day_that_is_still_to_come_is_no_finding(ready: Dueward, scan: Path) -> None:
    """Read on 2 March, when hardly a day of the page has passed."""
    text = ready("read", str(scan), "--format", "table").stdout
    assert text.startswith("1 page read, 0 empty cells, 0 to look at\n")
    assert ready("read", str(scan), "--check").exit_code == 0


def test_only_cells_of_a_verdict_and_the_exit_code_of_a_check(ready: Dueward, scan: Path) -> None:
    found = rows(ready, str(scan), "--verdict", "blank", "--check", code=3)
    assert {one["date"] for one in found} == EMPTY


def test_a_day_that_became_a_holiday_goes_to_a_person(
    ready: Dueward, scan: Path, tmp_path: Path
) -> None:
    changed = tmp_path / "changed"
    changed.mkdir()
    text = "site,from,to,reason,open\nalder,2026-03-25,,Flood,\nalder,2026-03-07,,Fair,yes\n"
    (changed / "closures.csv").write_text(text, encoding="utf-8")
    assert ready("load", str(changed)).exit_code == 0

    told = {one["date"]: one for one in rows(ready, str(scan))}

    assert told["2026-03-25"]["verdict"] == "uncertain"
    assert told["2026-03-25"]["reason"] == "printed open; now nothing is asked: closure: Flood"
    assert told["2026-03-07"]["reason"] == "crossed out in print; now a mark is asked for"
    assert told["2026-03-04"]["verdict"] == "blank"


def test_a_mark_that_the_record_has_already_is_told(ready: Dueward, scan: Path) -> None:
    words = ["A-1", "optics", "--on", "2026-03-02", "--as", "done", "--initials", "GR"]
    assert ready("mark", *words).exit_code == 0

    told = {one["date"]: one["record"] for one in rows(ready, str(scan))}

    assert told["2026-03-02"] == "recorded"
    assert told["2026-03-03"] == "asked"


def test_files_that_cannot_be_read_are_rows_of_their_own(
    ready: Dueward, scan: Path, out: Path
) -> None:
    (out / "card.txt").write_text("Happy holidays")
    blank = np.full((900, 1200), 255, np.uint8)
    cv2.imwrite(str(out / "empty.png"), blank)

    found = rows(ready, str(out / "card.txt"), str(out / "empty.png"), str(scan), "--check", code=3)

    unread = [one for one in found if one["verdict"] == "not read"]
    assert [one["file"] for one in unread] == ["card.txt", "empty.png"]
    assert all(one["unit"] is None and one["date"] is None and one["reason"] for one in unread)
    assert {one["date"] for one in found if one["verdict"] == "blank"} == EMPTY


def test_a_path_that_is_not_there_is_wrong_use(ready: Dueward) -> None:
    result = ready("read", "none.pdf")
    assert result.exit_code == 2
    assert result.stderr == "none.pdf: there is no such file or folder; check the path\n"


def test_of_another_year_and_a_page_sent_twice_it_is_said(
    ready: Dueward, scan: Path, out: Path
) -> None:
    again = out / "again.png"
    again.write_bytes(scan.read_bytes())
    result = ready("read", str(scan), str(again), "--format", "json")
    assert result.stderr == (
        "again.png, page 1: the same page of the same chart as scan.png, page 1\n"
    )


def test_how_often_it_was_right_is_told_against_what_a_person_saw(
    ready: Dueward, scan: Path, out: Path
) -> None:
    """Of the one blank cell none is read as marked: up to 79.3 % may be (Wilson 1927, worked by
    hand: z2 / (n + z2) with n = 1, z2 = 3.8415).
    """
    answer = ready("read", str(scan), "--format", "csv").stdout
    lines = list(csv.DictReader(io.StringIO(answer)))
    marked = [one for one in lines if one["verdict"] == "marked"]
    blank = [one for one in lines if one["verdict"] == "blank"]
    blank[0]["verdict"] = "marked"  # a person sees a mark that the reading did not
    looked_at = out / "looked-at.csv"
    with looked_at.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, lines[0])
        writer.writeheader()
        writer.writerows([*marked, *blank])

    result = ready("read", str(scan), "--against", str(looked_at), "--format", "json")

    told = {(one["paper"], one["read"]): one for one in json.loads(result.stdout)}
    assert (told["marked", "marked"]["count"], told["marked", "marked"]["cells"]) == (20, 21)
    assert (told["marked", "blank"]["count"], told["blank", "blank"]["count"]) == (1, 1)
    assert told["blank", "marked"]["share_high"] == pytest.approx(3.8415 / 4.8415, abs=1e-3)
    text = ready("read", str(scan), "--against", str(looked_at), "--format", "table").stdout
    assert "Read wrong: 1 cell" in text
    assert "2026-03-04" in text


def test_answers_that_are_none_are_refused_by_row_and_column(
    ready: Dueward, scan: Path, out: Path
) -> None:
    (out / "bad.csv").write_text("unit,task,date,verdict\nA-1,optics,4 March,perhaps\n")
    result = ready("read", str(scan), "--against", str(out / "bad.csv"))
    assert result.exit_code == 2
    assert result.stderr == (
        "bad.csv row 2, verdict: 'perhaps' is no answer;"
        " write blank or marked as the paper shows, or leave it uncertain\n"
        "bad.csv row 2, date: '4 March' is not a date; write it as YYYY-MM-DD\n"
    )


def test_answers_that_are_not_there_are_refused(ready: Dueward, scan: Path) -> None:
    result = ready("read", str(scan), "--against", "none.csv")
    assert (result.exit_code, result.stderr) == (
        2,
        "none.csv: there is no such file; check the path\n",
    )


def test_where_the_reader_is_not_installed_it_says_what_to_install(
    ready: Dueward, scan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleet.desk.page_reader.find_spec", lambda name: None)
    result = ready("read", str(scan))
    assert result.exit_code == 1
    assert result.stderr == (
        "reading scans needs more to be installed: pip install 'dueward[scan]'\n"
    )


def test_the_paper_s_corner_is_where_the_box_begins() -> None:
    """ANSI/ASME Y14.1: letter is 279.4 by 215.9 mm, the box 259 by 190."""
    assert origin("letter") == pytest.approx((10.2, 12.95))
