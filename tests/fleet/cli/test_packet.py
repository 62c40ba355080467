"""Does a packet hold one site's evidence, and can it be checked with standard tools alone?"""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
import json
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fleet.services.packet import LONGEST_YEARS
from tests.fleet.cli.conftest import NOON, Dueward

SPAN = ("--from", "2026-02-01", "--to", "2026-02-28")
needs_pdftotext = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext (poppler) is not on this machine"
)
needs_shell_tools = pytest.mark.skipif(
    any(shutil.which(tool) is None for tool in ("sh", "xxd", "sha256sum", "sed")),
    reason="sh, sed, xxd or sha256sum is not on this machine",
)


def made(dueward: Dueward, out: Path, *more: str, site: str = "alder") -> dict[str, Any]:
    """The command's answer, as an object."""
    words = ("packet", site, *SPAN, "--out", str(out), "--format", "json", *more)
    result = dueward(*words)
    assert result.exit_code == 0, result.stderr
    answer: dict[str, Any] = json.loads(result.stdout)
    return answer


@pytest.fixture
def unpacked(loaded: Dueward, tmp_path: Path) -> Path:
    """A folder with the PDF and all that was in the ZIP."""
    answer = made(loaded, tmp_path / "out")
    with zipfile.ZipFile(answer["zip"]) as archive:
        archive.extractall(tmp_path / "out")
    return tmp_path / "out"


def table(folder: Path, name: str) -> list[dict[str, str]]:
    text = (folder / f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text)))


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)


def test_the_answer_tells_both_files_their_hashes_and_the_root(
    loaded: Dueward, tmp_path: Path
) -> None:
    answer = made(loaded, tmp_path / "out")

    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "packet-alder-2026-02-01-to-2026-02-28.pdf",
        "packet-alder-2026-02-01-to-2026-02-28.zip",
    ]
    for name in ("pdf", "zip"):
        content = Path(answer[name]).read_bytes()
        assert hashlib.sha256(content).hexdigest() == answer[f"{name}_sha256"]
        assert len(content) == answer[f"{name}_bytes"]
    with zipfile.ZipFile(answer["zip"]) as archive:
        assert len(archive.namelist()) == answer["files"]
        heads = archive.read("heads.tsv")
    assert hashlib.sha256(heads).hexdigest() == answer["root"]


def test_the_same_question_on_the_same_record_gives_the_same_bytes(
    loaded: Dueward, tmp_path: Path
) -> None:
    one, other = made(loaded, tmp_path / "one"), made(loaded, tmp_path / "other")

    for name in ("pdf", "zip"):
        assert Path(one[name]).read_bytes() == Path(other[name]).read_bytes()


def test_a_packet_of_a_past_span_does_not_hang_on_the_day_it_is_made(
    loaded: Dueward, tmp_path: Path
) -> None:
    def later(*words: str) -> Any:
        return loaded(*words, at=dt.datetime(2026, 11, 2, 18, tzinfo=dt.UTC))

    one, other = made(loaded, tmp_path / "one"), made(later, tmp_path / "other")

    assert one["pdf_sha256"] == other["pdf_sha256"]
    assert one["zip_sha256"] == other["zip_sha256"]


def test_no_file_bears_the_time_at_which_it_was_made(loaded: Dueward, tmp_path: Path) -> None:
    answer = made(loaded, tmp_path)

    with zipfile.ZipFile(answer["zip"]) as archive:
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert answer["as_of"] == NOON.isoformat()
    assert b"/CreationDate (D:20260302180000" in Path(answer["pdf"]).read_bytes()


@needs_shell_tools
def test_sha256sum_finds_all_files_as_the_manifest_says_until_one_is_changed(
    unpacked: Path,
) -> None:
    names = {
        line.split("  ")[1]
        for line in (unpacked / "MANIFEST.sha256").read_text().split("\n")
        if line
    }
    there = {str(path.relative_to(unpacked)) for path in unpacked.rglob("*") if path.is_file()}
    assert names == there - {"MANIFEST.sha256", "packet-alder-2026-02-01-to-2026-02-28.zip"}
    well = run(unpacked, "sha256sum", "-c", "MANIFEST.sha256")
    assert (well.returncode, "FAILED" in well.stdout) == (0, False)

    flip(unpacked / "entries.csv", 100)

    ill = run(unpacked, "sha256sum", "-c", "MANIFEST.sha256")
    assert ill.returncode == 1
    assert [line for line in ill.stdout.split("\n") if "FAILED" in line] == ["entries.csv: FAILED"]


def flip(path: Path, place: int) -> None:
    """Flip the lowest bit of a byte."""
    content = bytearray(path.read_bytes())
    content[place] ^= 1
    path.write_bytes(content)


def by_shell(folder: Path) -> subprocess.CompletedProcess[str]:
    take = "sed -n '/^# check.sh/,/^# end of check.sh/p' CHECK.txt > check.sh; sh check.sh"
    return run(folder, "sh", "-c", take)


def by_python(folder: Path) -> subprocess.CompletedProcess[str]:
    take = "sed -n '/^# check.py/,/^# end of check.py/p' CHECK.txt > check.py"
    run(folder, "sh", "-c", take)
    return run(folder, sys.executable, "check.py")


@needs_shell_tools
@pytest.mark.parametrize("check", [by_shell, by_python])
def test_the_programs_of_the_check_text_find_every_line_as_it_was_written(
    check: Callable[[Path], subprocess.CompletedProcess[str]], unpacked: Path
) -> None:
    lines = (unpacked / "lines.tsv").read_text(encoding="utf-8").count("\n")
    root = hashlib.sha256((unpacked / "heads.tsv").read_bytes()).hexdigest()

    result = check(unpacked)

    assert (result.returncode, result.stderr) == (0, "")
    told = f"{lines} lines" if check is by_shell else f"root {root}"
    assert told in result.stdout
    assert result.stdout.startswith("all is well")


@needs_shell_tools
@pytest.mark.parametrize("check", [by_shell, by_python])
def test_the_programs_of_the_check_text_name_a_line_with_a_flipped_byte(
    check: Callable[[Path], subprocess.CompletedProcess[str]], unpacked: Path
) -> None:
    content = (unpacked / "lines.tsv").read_bytes()
    flip(unpacked / "lines.tsv", content.index(b'"initials":"GR"') + len('"initials":"'))

    result = check(unpacked)

    assert result.returncode == 1
    assert result.stdout == "line 2 of entry/A-1 is not as it was written\n"


@needs_shell_tools
def test_a_line_left_out_at_the_end_of_a_chain_is_missed(unpacked: Path) -> None:
    lines = (unpacked / "lines.tsv").read_text(encoding="utf-8").split("\n")
    last = max(n for n, line in enumerate(lines) if line.startswith("entry/A-1\t"))
    rest = [line for n, line in enumerate(lines) if n != last]
    (unpacked / "lines.tsv").write_text("\n".join(rest), encoding="utf-8")

    result = by_python(unpacked)

    assert result.returncode == 1
    assert result.stdout == "entry/A-1 does not end as heads.tsv says\n"


def test_only_the_units_of_the_site_are_told(unpacked: Path) -> None:
    assert [row["property_number"] for row in table(unpacked, "units")] == ["A-1"]
    assert {row["property_number"] for row in table(unpacked, "entries")} == {"A-1"}
    chains = {line.split("\t")[0] for line in (unpacked / "lines.tsv").read_text().splitlines()}
    assert "entry/A-1" in chains
    assert "entry/B-1" not in chains


def test_each_day_of_the_chart_has_its_state(unpacked: Path) -> None:
    cells = {row["period_from"]: row for row in table(unpacked, "cells")}

    assert len(cells) == 28
    told = {day: (cells[day]["state"], cells[day]["cause"], cells[day]["reason"]) for day in cells}
    assert told["2026-02-02"] == ("pre-marked", "before the record", "")
    assert told["2026-02-24"] == ("done", "", "")
    assert told["2026-02-28"] == ("pre-marked", "weekday", "Saturday")
    assert cells["2026-02-24"]["marks"] == "A-1/optics/2026-02-23/1"


def test_a_packet_that_is_there_is_replaced_only_if_that_is_said(
    loaded: Dueward, tmp_path: Path
) -> None:
    first = made(loaded, tmp_path)
    result = loaded("packet", "alder", *SPAN, "--out", str(tmp_path))

    assert result.exit_code == 2
    assert result.stderr == (
        f"{first['pdf']}: it is there already; give another folder as --out, or say --replace\n"
    )
    assert made(loaded, tmp_path, "--replace") == first
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".packet-")]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("aldr", "--from", "2026-02-01", "--to", "2026-02-28"),
            "SITE: no site 'aldr'; did you mean 'alder'?",
        ),
        (
            ("alder", "--from", "2026-02-28", "--to", "2026-02-01"),
            "--to: 2026-02-01 lies before --from 2026-02-28; give the later day as --to",
        ),
        (
            ("alder", "--from", "2026-03-03", "--to", "2026-04-01"),
            "--from: 2026-03-03 is still to come at alder; give a day up to 2026-03-02",
        ),
        (
            ("alder", "--from", "2015-01-01", "--to", "2026-02-01"),
            f"--to: 2015-01-01 to 2026-02-01 is longer than {LONGEST_YEARS} years;"
            " ask for several packets",
        ),
    ],
)
def test_a_question_that_cannot_be_answered_is_refused_with_the_mend(
    words: tuple[str, ...], said: str, loaded: Dueward, tmp_path: Path
) -> None:
    result = loaded("packet", *words, "--out", str(tmp_path / "out"))

    assert (result.exit_code, result.stderr, result.stdout) == (2, f"{said}\n", "")
    assert not (tmp_path / "out").exists()


def pdf_text(path: str | Path) -> str:
    words = ("pdftotext", "-layout", str(path), "-")
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


@needs_pdftotext
def test_the_pdf_has_contents_numbered_pages_and_every_section(
    loaded: Dueward, tmp_path: Path
) -> None:
    answer = made(loaded, tmp_path)
    pages = pdf_text(answer["pdf"]).split("\f")[:-1]

    assert len(pages) == answer["pages"]
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page
        assert "Packet: alder (Alder Creek Laboratory), 2026-02-01 to 2026-02-28" in page
        assert answer["root"] in page
    for name in (
        *("Units and their history", "Changes of the register", "Charts, month by month"),
        *("Gaps and explanations", "Other findings of the audit", "Service reports"),
        *("Corrective actions", "Reviews of the months", "Corrections"),
        *("Extensions of due dates", "Removed after its retention", "Views given out"),
        "How to check this packet with standard tools alone",
    ):
        (told,) = re.findall(rf"{name} *[ .]* (\d+)$", pages[1].replace("\u2009", ""), re.MULTILINE)
        assert name in pages[int(told) - 1]


@needs_pdftotext
def test_the_pdf_shows_the_month_with_initials_and_the_legend(
    loaded: Dueward, tmp_path: Path
) -> None:
    pages = pdf_text(made(loaded, tmp_path)["pdf"]).split("\f")
    (chart,) = [page for page in pages if "Charts of February 2026" in page]

    (row,) = [line for line in chart.split("\n") if "optics (each" in line]
    cells = row.split("open day)")[1].split()
    assert cells == ["B"] * 22 + ["GR"] * 5 + ["W"]
    assert "black GAP: no mark, and the time is over" in chart
    assert "No links have been given out; this version has none." in "".join(pages)
