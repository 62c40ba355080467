"""Do answers arrive whole, as what they are, and harmless?"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fleet.cli.output import one_line, show_object, show_rows, write_text

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer as Buffer

ROOT = Path(__file__).parents[3]
FORMULA = '=HYPERLINK("http://x.example")'


def no_table() -> str:
    raise AssertionError("a table was asked for")


def test_json_is_one_array_of_flat_objects(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    rows = [("Ñandú", dt.date(2026, 3, 2), None), ("b", None, 3)]

    show_rows(["site", "on", "missed"], rows, "json", no_table)

    out = capfdbinary.readouterr().out
    assert json.loads(out) == [
        {"site": "Ñandú", "on": "2026-03-02", "missed": None},
        {"site": "b", "on": None, "missed": 3},
    ]
    assert "Ñandú".encode() in out


def test_no_rows_are_an_empty_array_and_a_header_alone(
    capfdbinary: pytest.CaptureFixture[bytes],
) -> None:
    show_rows(["site", "on"], [], "json", no_table)
    show_rows(["site", "on"], [], "csv", no_table)

    assert capfdbinary.readouterr().out == b"[]\nsite,on\n"


@pytest.mark.parametrize("text", [FORMULA, "+1", "-1", "@SUM(1)", "\tx", "=1\n2"])
def test_a_cell_that_a_spreadsheet_would_run_is_guarded(
    text: str, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    show_rows(["note", "count"], [[text, -1]], "csv", no_table)

    written = capfdbinary.readouterr().out.decode()
    assert list(csv.reader(io.StringIO(written)))[1] == [f"'{text}", "-1"]


def test_an_object_is_one_row_of_csv(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    at = dt.datetime(2026, 3, 2, 18, tzinfo=dt.UTC)

    show_object({"at": at, "new": True, "steps": ["One.", "Two."]}, "csv", no_table)

    assert (
        capfdbinary.readouterr().out == b"at,new,steps\n2026-03-02T18:00:00+00:00,yes,One. Two.\n"
    )


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("plain ñ", "plain ñ"),
        ("a\nb\tc\u00a0d", "a b c d"),
        ("\x1b]0;title\x07", "\\x1b]0;title\\x07"),
        ("left\u202eright", "left\\u202eright"),
    ],
)
def test_nothing_that_moves_the_cursor_or_hides_text_is_shown(text: str, told: str) -> None:
    assert one_line(text) == told


def test_words_that_the_terminal_cannot_show_are_told_by_their_codes() -> None:
    program = (
        "from fleet.cli.main import main\n"
        "from fleet.cli.output import write_text\n"
        "import sys\n"
        "try:\n    main(['--version'])\nexcept SystemExit:\n    pass\n"
        "write_text('Ca\\u00f1on')"
    )
    result = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
        capture_output=True,
        check=True,
    )

    assert result.stdout.endswith(b"Ca\\xf1on\n")


@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_reader_that_has_seen_enough_is_no_failure(unbuffered: str) -> None:
    program = (
        "from fleet.cli.output import flush, show_rows\n"
        "show_rows(['n'], ([n] for n in range(200_000)), 'json', str)\n"
        "flush()"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env=os.environ | {"PYTHONUNBUFFERED": unbuffered},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    assert process.stdout.readline() == b"[\n"
    process.stdout.close()

    assert process.stderr.read() == b""
    assert process.wait(timeout=30) == 0
    process.stderr.close()


def test_a_stdout_that_takes_little_at_once_gets_the_whole_answer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Narrow(io.RawIOBase):
        taken = b""

        def writable(self) -> bool:
            return True

        def write(self, data: Buffer) -> int:
            some = bytes(data)[:3]
            self.taken += some
            return len(some)

    narrow = Narrow()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(narrow, write_through=True))  # type: ignore[type-var]

    show_rows(["site"], [["alder"]], "json", no_table)

    assert narrow.taken == b'[\n{"site": "alder"}\n]\n'


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the machine has no /dev/full")
def test_an_answer_that_could_not_be_written_is_a_failure() -> None:
    with Path("/dev/full").open("wb") as full:
        result = subprocess.run(
            [sys.executable, "-m", "fleet", "--version"],
            cwd=ROOT,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )

    assert result.returncode == 1
    assert result.stderr == (
        "output: No space left on device; check that it is there and may be read or written\n"
    )


def test_text_ends_with_a_line_end(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    write_text("a sentence")
    write_text("another\n")

    assert capfdbinary.readouterr().out == b"a sentence\nanother\n"
