"""`dueward service`: recorded at one go, told with what is next, its certificate given back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.fleet.cli.conftest import Dueward
from tests.fleet.files.certificates import PLAIN_PDF, pdf

SERVICE = ("service", "A-1", "annual-service", "--on", "2026-03-02")
TOLD = ("--vendor", "Example Optics", "--technician", "T. Exemplar", "--findings", "no fault")
KEY = "A-1/annual-service/2026-03-02/1"


@pytest.fixture
def certificate(tmp_path: Path) -> Path:
    file = tmp_path / "report.pdf"
    file.write_bytes(PLAIN_PDF)
    return file


def test_a_service_is_answered_with_the_report_and_what_is_due_next(
    loaded: Dueward, certificate: Path
) -> None:
    result = loaded(*SERVICE, *TOLD, "--certificate", str(certificate), "--initials", "GR")

    assert result.exit_code == 0, result.stderr
    answer = json.loads(result.stdout)
    assert answer == answer | {
        "key": KEY,
        "mark": "done",
        "initials": "GR",
        "vendor": "Example Optics",
        "technician": "T. Exemplar",
        "findings": "no fault",
        "certificate_name": "report.pdf",
        "certificate_type": "application/pdf",
        "certificate_bytes": len(PLAIN_PDF),
        "next_state": "upcoming",
        "next_due": "2027-03-02",
    }
    (row,) = json.loads(loaded("due", "--site", "alder", "--task", "annual-service").stdout)
    assert (row["state"], row["last_done"]) == ("upcoming", "2026-03-02")


def test_a_service_in_a_sentence_and_the_same_again(loaded: Dueward, certificate: Path) -> None:
    words = (*SERVICE, *TOLD, "--certificate", str(certificate), "--format", "table")

    assert loaded(*words).stdout == (
        "A-1 annual-service is recorded as serviced by Example Optics on Mon 2 Mar 2026"
        f" (key {KEY}; certificate report.pdf, application/pdf). Next due Tue 2 Mar 2027.\n"
    )
    assert loaded(*words).stdout == (
        "A-1 annual-service was already recorded as serviced by Example Optics on Mon 2 Mar 2026"
        f" (key {KEY}; certificate report.pdf, application/pdf). Next due Tue 2 Mar 2027.\n"
    )
    bare = (*SERVICE[:-1], "2026-02-27", "--format", "table")
    assert loaded(*bare).stdout == (
        "A-1 annual-service is recorded as serviced on Fri 27 Feb 2026"
        " (key A-1/annual-service/2026-02-27/1; no certificate). Next due Tue 2 Mar 2027.\n"
    )


def test_a_certificate_comes_back_as_it_was_and_overwrites_nothing(
    loaded: Dueward, certificate: Path, tmp_path: Path
) -> None:
    loaded(*SERVICE, "--certificate", str(certificate))
    copy = tmp_path / "copy.pdf"

    saved = loaded(*SERVICE, "--save", str(copy))
    again = loaded(*SERVICE, "--save", str(copy))

    assert (saved.exit_code, saved.stdout) == (0, "")
    assert saved.stderr == (f"{copy}: report.pdf, as it was attached ({len(PLAIN_PDF):,} bytes)\n")
    assert copy.read_bytes() == PLAIN_PDF
    assert (again.exit_code, again.stderr) == (
        2,
        f"{copy}: the file is there already and is not overwritten; name a new one\n",
    )


def test_saving_writes_nothing_on_the_record(loaded: Dueward, tmp_path: Path) -> None:
    result = loaded(*SERVICE, *TOLD, "--save", str(tmp_path / "copy.pdf"))
    missing = loaded(*SERVICE, "--save", str(tmp_path / "copy.pdf"))

    assert (result.exit_code, result.stderr) == (
        2,
        "--save: it writes nothing on the record; give it alone with PN, TASK and --on\n",
    )
    assert (missing.exit_code, missing.stderr) == (
        2,
        "no service report 'A-1 annual-service 2026-03-02'; none has been recorded yet\n",
    )
    assert not (tmp_path / "copy.pdf").exists()


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (
            b"#!/bin/sh\n",
            "report.pdf: it is neither a PDF nor a picture that is kept (it begins '#!/bin/sh\\n');"
            " attach the certificate as a PDF, PNG, JPEG or TIFF\n",
        ),
        (
            pdf(b"<</S/JavaScript/JS(x)>>"),
            "report.pdf: the PDF holds a script (/JavaScript); print it to a new PDF without it,"
            " or scan it\n",
        ),
    ],
    ids=["a script", "a PDF with a script"],
)
def test_an_unfit_certificate_leaves_nothing_on_the_record(
    loaded: Dueward, certificate: Path, content: bytes, message: str
) -> None:
    certificate.write_bytes(content)

    result = loaded(*SERVICE, "--certificate", str(certificate))

    assert (result.exit_code, result.stdout, result.stderr) == (2, "", message)
    (row,) = json.loads(loaded("due", "--site", "alder", "--task", "annual-service").stdout)
    assert row["last_done"] == "2025-01-03"


def test_a_certificate_that_is_not_there_is_told(loaded: Dueward, tmp_path: Path) -> None:
    gone = tmp_path / "gone.pdf"

    result = loaded(*SERVICE, "--certificate", str(gone))

    assert result.exit_code == 1
    assert result.stderr == (
        f"{gone}: No such file or directory; check that it is there and may be read or written\n"
    )
