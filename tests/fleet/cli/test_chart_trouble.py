"""What goes wrong while charts are printed parts no print from its paper, and loses no file."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import Any

import pytest

from fleet.cli import chart_files
from fleet.errors import StoreError
from fleet.services.charts import printing
from fleet.services.charts.prints import keep_prints
from fleet.storage.record import SqlRecord
from tests.fleet.cli.conftest import Dueward, Prints
from tests.fleet.cli.printing import made, names, numbers_only

pytestmark = pytest.mark.usefixtures("undrawn")


def full(*_: object) -> None:
    raise OSError(28, "No space left on device")


def test_a_full_disk_keeps_nothing(
    ready: Dueward, out: Path, prints: Prints, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "fsync", full)

    result = ready("chart", "A-1", "--out", str(out / "deep"))

    assert result.exit_code == 1
    assert result.stderr == (
        f"{out}/deep: the disk is full, and nothing was left behind; free some space, then run the"
        " command again\n"
    )
    assert (prints(), out.exists()) == ([], False)


def test_a_printing_that_is_interrupted_keeps_nothing(
    ready: Dueward, out: Path, prints: Prints, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object) -> bytes:
        raise KeyboardInterrupt

    made(ready, out, "B-1")
    monkeypatch.setattr(chart_files, "chart_pdf", interrupted)

    result = ready("chart", "--all", "--each-site", "--out", str(out))

    assert (result.exit_code, result.stderr) == (
        130,
        "interrupted; the database holds nothing half-written\n",
    )
    assert ([one.property_number for one in prints()], names(out)) == (
        ["B-1"],
        ["chart-B-1-2026.pdf"],
    )


def test_an_interrupt_does_not_part_a_print_from_its_paper(
    ready: Dueward, out: Path, prints: Prints, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupting(*given: Any) -> None:
        signal.raise_signal(signal.SIGINT)
        keep_prints(*given)
        signal.raise_signal(signal.SIGINT)

    before = signal.getsignal(signal.SIGINT)
    monkeypatch.setattr(printing, "keep_prints", interrupting)

    made(ready, out, "A-1")

    assert (len(prints()), names(out)) == (1, ["chart-A-1-2026.pdf"])
    assert signal.getsignal(signal.SIGINT) is before


def test_a_record_that_cannot_be_written_leaves_no_file(
    ready: Dueward, out: Path, prints: Prints, monkeypatch: pytest.MonkeyPatch
) -> None:
    def locked(*_: object) -> None:
        raise StoreError("own.db: another program is writing; try again")

    made(ready, out, "A-1")
    before = (out / "chart-A-1-2026.pdf").read_bytes()
    monkeypatch.setattr(printing, "keep_prints", locked)

    result = ready("chart", "A-1", "--replace", "--html", "--out", str(out))

    assert (result.exit_code, result.stderr) == (
        1,
        "own.db: another program is writing; try again\n",
    )
    assert names(out) == ["chart-A-1-2026.pdf"]
    assert (len(prints()), (out / "chart-A-1-2026.pdf").read_bytes()) == (1, before)


def test_of_two_printings_at_once_the_first_kept_counts(
    ready: Dueward, out: Path, tmp_path: Path, prints: Prints, monkeypatch: pytest.MonkeyPatch
) -> None:
    def overtaken(*given: Any) -> bytes:
        monkeypatch.setattr(chart_files, "chart_pdf", numbers_only)
        made(ready, tmp_path / "other", "A-1")
        return numbers_only(*given)

    monkeypatch.setattr(chart_files, "chart_pdf", overtaken)

    result = ready("chart", "--all", "--out", str(out))

    assert (result.exit_code, result.stderr) == (
        1,
        "chart of A-1 at alder: another was printed meanwhile, and nothing of this printing was"
        " kept; print again if it is still needed\n",
    )
    assert [one.property_number for one in prints()] == ["A-1"]
    assert (out.exists(), names(tmp_path / "other")) == (False, ["chart-A-1-2026.pdf"])


def test_nothing_has_its_name_where_the_prints_could_not_be_kept(
    ready: Dueward, out: Path, prints: Prints, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full_store(_: object) -> None:
        assert [path.name for path in out.iterdir() if not path.name.startswith(".")] == []
        raise StoreError("own.db: the disk is full")

    monkeypatch.setattr(SqlRecord, "commit", full_store)

    result = ready("chart", "--all", "--html", "--out", str(out))

    assert (result.exit_code, result.stderr) == (1, "own.db: the disk is full\n")
    assert (prints(), out.exists()) == ([], False)


SOME, OTHERS = (
    (number, "--site", site, "--kind", "microscope", "--year", "2026")
    for number, site in (("A-1", "alder"), ("B-1", "birch"))
)
"""Different charts in files of one name."""


def test_of_two_files_of_one_name_the_first_stays_and_the_second_keeps_no_print(
    ready: Dueward, out: Path, prints: Prints, monkeypatch: pytest.MonkeyPatch
) -> None:
    def overtaken(*given: Any) -> bytes:
        monkeypatch.setattr(chart_files, "chart_pdf", numbers_only)
        made(ready, out, *OTHERS)
        return numbers_only(*given)

    monkeypatch.setattr(chart_files, "chart_pdf", overtaken)

    result = ready("chart", *SOME, "--out", str(out))

    mend = "give another folder as --out, or say --replace"
    assert (result.exit_code, result.stderr) == (
        2,
        f"{out}/charts-2026.pdf: it is there already; {mend}\n",
    )
    (kept,) = prints()
    assert (kept.property_number, names(out)) == ("B-1", ["charts-2026.pdf"])
    assert (out / "charts-2026.pdf").read_text() == kept.number


@pytest.mark.parametrize("words", [[], ["--html"]])
def test_a_file_that_comes_at_the_last_moment_stays_and_the_charts_wait_beside_it(
    ready: Dueward,
    out: Path,
    prints: Prints,
    monkeypatch: pytest.MonkeyPatch,
    words: list[str],
) -> None:
    name = "chart-A-1-2026" if words else "chart-A-1-2026.pdf"

    def late(*given: Any) -> None:
        keep_prints(*given)
        if words:
            (out / name).mkdir()
            (out / name / "mine.html").write_text("mine", encoding="utf-8")
        else:
            (out / name).write_text("mine", encoding="utf-8")

    monkeypatch.setattr(printing, "keep_prints", late)

    result = ready("chart", "A-1", *words, "--out", str(out))

    (kept,), (waiting,) = prints(), out.glob(".charts-*/new")
    said = "Directory not empty" if words else "File exists"
    assert (result.exit_code, result.stderr) == (
        1,
        f"{out}/{name}: {said}; the prints are kept, and their files wait in {waiting}; move them,"
        " or print again\n",
    )
    mine = out / name / "mine.html" if words else out / name
    assert mine.read_text(encoding="utf-8") == "mine"
    assert kept.number in (
        waiting / name / "A-1-alder.html" if words else waiting / name
    ).read_text(encoding="utf-8")


def test_a_disk_that_is_full_at_the_last_moment_takes_no_file_away(
    ready: Dueward, out: Path, prints: Prints, monkeypatch: pytest.MonkeyPatch
) -> None:
    made(ready, out, "A-1")
    monkeypatch.setattr(Path, "replace", full)

    result = ready("chart", "A-1", "--replace", "--html", "--out", str(out))

    (first, second), (waiting,) = prints(), out.glob(".charts-*/new")
    assert (result.exit_code, result.stderr) == (
        1,
        f"{out}/chart-A-1-2026.pdf: No space left on device; the prints are kept, and their files"
        f" wait in {waiting}; move them, or print again\n",
    )
    assert (out / "chart-A-1-2026.pdf").read_text() == first.number
    assert (waiting / "chart-A-1-2026.pdf").read_text() == second.number
    assert names(waiting / "chart-A-1-2026") == ["A-1-alder.html", "index.html"]
