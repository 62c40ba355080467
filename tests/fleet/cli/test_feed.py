"""`dueward feed` gives out, lists, ends and writes calendars."""

from __future__ import annotations

import json
from pathlib import Path

from tests.fleet.cli.conftest import Dueward
from tests.notifications.ics_lint import faults

LEAD = "lead@alder.example"


def test_an_address_is_told_once_listed_and_ended(ready: Dueward) -> None:
    made = ready("feed", LEAD)
    assert made.exit_code == 0, made.stderr
    (told,) = json.loads(made.stdout)
    token = told["address"].removeprefix("/calendar/").removesuffix(".ics")
    assert told == {"email": LEAD, "address": f"/calendar/{token}.ics"}
    assert len(token) == 43
    assert made.stderr == (
        "set DUEWARD_BASE_URL to where the pages are served; --out writes a file without them\n"
    )

    listed = ready("feed", "--list", "--format", "json")
    assert [row["email"] for row in json.loads(listed.stdout)] == [LEAD]
    assert token not in listed.stdout
    assert ready("feed", LEAD, "--revoke").stderr == f"1 address of {LEAD} ended\n"
    assert ready("feed", LEAD, "--revoke").stderr == f"0 addresses of {LEAD} ended\n"


def test_a_calendar_is_written_into_a_file(ready: Dueward, tmp_path: Path) -> None:
    out = tmp_path / "alder.ics"

    result = ready("feed", LEAD, "--out", str(out))

    assert result.exit_code == 0, result.stderr
    content = out.read_bytes()
    assert faults(content) == []
    assert b"SUMMARY:Due: Service by the vendor\\, A-1\r\n" in content


def test_an_address_that_is_not_known_is_refused_and_no_file_written(
    ready: Dueward, tmp_path: Path
) -> None:
    out = tmp_path / "x.ics"
    words = (
        "EMAIL: 'led@alder.example' answers for no site; add a row for it to people, or correct the"
        " address\n"
    )

    for more in ([], ["--out", str(out)]):
        result = ready("feed", "led@alder.example", *more)
        assert (result.exit_code, result.stderr) == (2, words)
    assert not out.exists()
