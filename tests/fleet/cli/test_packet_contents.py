"""Does a packet tell all that happened to a site's units, and no more than that?"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest
from fpdf import FPDF

from fleet.services.ports import Stamp
from fleet.storage import open_store
from tests.fleet.cli.conftest import FILES, NOON, Dueward

LONG_NAME = "Laboratório Žižka Ångström Михайлов of the Upper Willow Creek Valley, 検査室 🧪 annex"
TWENTY = "".join(
    f'[[kind.analyser.rule]]\ntask = "task-{n}"\ntitle = "Task {n}"\neach = "open-day"\n'
    'source = "common practice, no source"\n'
    for n in range(20)
)
ODD = {
    "sites.csv": f"""\
site,name,county,region,country,subdivision,time_zone,open_days
alder,"{LONG_NAME}",Adams,North,US,NE,America/Chicago,Mon Tue Wed Thu Fri
birch,Birch Hill Laboratory,Boone,South,US,NE,America/Chicago,Mon Tue Wed Thu Fri
empty,Empty Laboratory,Boone,South,US,NE,America/Chicago,Mon
""",
    "units.csv": """\
property_number,kind,manufacturer,model,serial,site,in_service_on,retired_on,record_from
A-1,microscope,Exemplar,M1,=1+1,alder,2025-01-06,,
A-2,microscope,Exemplar,M1,101,birch,2025-01-06,,
A-3,microscope,Exemplar,M1,102,alder,2025-01-06,2026-02-16,
A-4,analyser,Exemplar,M1,103,alder,2025-06-02,,
A-5,microscope,Exemplar,M1,104,alder,2024-01-08,2025-12-01,
""",
    "placements.csv": """\
property_number,site,from
A-2,alder,2026-02-09
A-2,birch,2026-02-23
""",
    "outages.csv": """\
property_number,from,to,reason
A-1,2026-02-03,2026-02-05,lamp housing cracked
""",
    "closures.csv": """\
site,from,to,reason,open
alder,2026-01-01,2026-01-31,roof repair,
""",
    "entries.csv": f"""\
property_number,task,on,to,mark,initials,note,key
A-1,optics,2026-02-06,2026-02-20,done,GR,,span
A-1,optics,2026-02-23,,unused,@HS,{"a long note " * 160},noted
A-2,optics,2026-02-02,2026-02-06,done,BB,,at-birch
A-2,optics,2026-02-09,2026-02-13,done,GR,,at-alder
""",
    "rules.toml": FILES["rules.toml"] + f'\n[kind.analyser]\nname = "Analyser"\n{TWENTY}',
}
FEBRUARY = ("--from", "2026-02-01", "--to", "2026-02-28")


@pytest.fixture
def odd(dueward: Dueward, tmp_path: Path) -> Dueward:
    """The command with units that came, went, were retired and have twenty tasks."""
    folder = tmp_path / "odd"
    folder.mkdir()
    for name, text in ODD.items():
        (folder / name).write_text(text, encoding="utf-8")
    result = dueward("load", str(folder))
    assert result.exit_code == 0, result.stderr
    return dueward


def ask(dueward: Dueward, out: Path, *words: str, site: str = "alder") -> dict[str, Any]:
    result = dueward("packet", site, *words, "--out", str(out), "--format", "json")
    assert result.exit_code == 0, result.stderr
    answer: dict[str, Any] = json.loads(result.stdout)
    return answer


def table(answer: dict[str, Any], name: str) -> list[dict[str, str]]:
    with zipfile.ZipFile(answer["zip"]) as archive:
        text = archive.read(f"{name}.csv").decode()
    return list(csv.DictReader(io.StringIO(text)))


def states(answer: dict[str, Any], number: str, task: str = "optics") -> dict[str, str]:
    """Day to what stands in its cell: a state, or the cause it is pre-marked with."""
    return {
        row["period_from"]: row["cause"] or row["state"]
        for row in table(answer, "cells")
        if (row["property_number"], row["task"]) == (number, task)
    }


def test_a_lent_unit_has_here_only_the_days_it_stood_here(odd: Dueward, tmp_path: Path) -> None:
    answer = ask(odd, tmp_path, *FEBRUARY)

    days = states(answer, "A-2")
    assert [days[f"2026-02-{day:02}"] for day in (6, 9, 13, 14, 20, 23)] == [
        *("at another site", "done", "done", "weekday", "gap", "at another site")
    ]
    assert [row["key"] for row in table(answer, "entries") if row["property_number"] == "A-2"] == [
        "at-alder"
    ]
    assert [tuple(row.values()) for row in table(answer, "placements")][1:4] == [
        ("A-2", "birch", "2025-01-06", "2026-02-08"),
        ("A-2", "alder", "2026-02-09", "2026-02-22"),
        ("A-2", "birch", "2026-02-23", ""),
    ]


def test_outages_retirement_and_holidays_are_pre_marked(odd: Dueward, tmp_path: Path) -> None:
    answer = ask(odd, tmp_path, *FEBRUARY)

    first = states(answer, "A-1")
    assert [first[f"2026-02-{day:02}"] for day in (2, 3, 4, 5, 6, 7, 16, 23)] == [
        *("gap", "out of service", "out of service", "gap", "done", "weekday", "holiday", "unused")
    ]
    retired = states(answer, "A-3")
    assert [retired[f"2026-02-{day:02}"] for day in (13, 16, 17)] == ["gap", "retired", "retired"]
    numbers = [row["property_number"] for row in table(answer, "units")]
    assert numbers == ["A-1", "A-2", "A-3", "A-4"]


def test_a_text_that_a_spreadsheet_would_run_has_a_mark_before_it(
    odd: Dueward, tmp_path: Path
) -> None:
    answer = ask(odd, tmp_path, *FEBRUARY)

    assert table(answer, "units")[0]["serial"] == "'=1+1"
    noted = [row for row in table(answer, "entries") if row["key"] == "noted"]
    assert noted[0]["initials"] == "'@HS"
    with zipfile.ZipFile(answer["zip"]) as archive:
        assert b'"initials":"@HS"' in archive.read("lines.tsv")
        assert "has a ' before it" in archive.read("CHECK.txt").decode()


@pytest.mark.parametrize(
    ("site", "words"),
    [
        ("empty", FEBRUARY),
        ("alder", ("--from", "2026-01-01", "--to", "2026-01-31")),
        ("alder", ("--from", "2019-01-01", "--to", "2019-12-31")),
        ("alder", ("--from", "2026-03-02", "--to", "2026-12-31")),
        ("alder", ("--from", "2026-02-17", "--to", "2026-02-17")),
    ],
    ids=["no units", "no open day", "before the record", "still running", "one day"],
)
def test_a_packet_with_little_in_it_is_whole(
    site: str, words: tuple[str, ...], odd: Dueward, tmp_path: Path
) -> None:
    answer = ask(odd, tmp_path, *words, site=site)

    assert answer["pages"] >= 5
    assert Path(answer["pdf"]).read_bytes().startswith(b"%PDF-")


def test_what_the_font_lacks_is_told_once(odd: Dueward, tmp_path: Path) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not on this machine")
    answer = ask(odd, tmp_path, *FEBRUARY)
    words = ("pdftotext", "-layout", answer["pdf"], "-")
    text = subprocess.run(words, capture_output=True, text=True, check=True).stdout

    assert (
        "Laboratório Žižka Ångström Михайлов of the Upper Willow Creek Valley, ??? ? annex" in text
    )
    assert text.count("characters of this PDF stand as '?'") == 1
    assert text.count("task-19 (each open day)") == 1


def test_corrections_and_what_was_known_then(odd: Dueward, tmp_path: Path) -> None:
    later = NOON + dt.timedelta(hours=2)
    struck = odd("strike", "noted", "--why", "it was used", "--replace-with", "done", at=later)
    assert struck.exit_code == 0, struck.stderr

    now = ask(odd, tmp_path / "now", *FEBRUARY)
    then = ask(odd, tmp_path / "then", *FEBRUARY, "--known-at", "2026-03-02T19:00:00Z")

    assert states(now, "A-1")["2026-02-23"] == "done"
    assert states(then, "A-1")["2026-02-23"] == "unused"
    assert [row["strikes"] for row in table(now, "entries")].count("noted") == 1
    assert [row["strikes"] for row in table(then, "entries")].count("noted") == 0
    assert (now["as_of"], then["as_of"]) == (
        "2026-03-02T20:00:00+00:00",
        "2026-03-02T19:00:00+00:00",
    )


def test_a_certificate_lies_in_the_zip_and_a_tombstone_stands_for_what_was_removed(
    odd: Dueward, tmp_path: Path
) -> None:
    certificate = tmp_path / "certificate of A 1.pdf"
    one_page = FPDF()
    one_page.add_page()
    certificate.write_bytes(bytes(one_page.output()))
    words = ("--on", "2026-02-24", "--vendor", "Fixit Works", "--initials", "OV")
    served = odd("service", "A-1", "annual-service", *words, "--certificate", str(certificate))
    assert served.exit_code == 0, served.stderr
    store = open_store(f"sqlite:///{tmp_path / 'own.db'}", clock=lambda: NOON)
    with store.begin(write=True) as record:
        record.remove(["noted"], [], "two years are over", Stamp(NOON, "command:alice", "command"))
        record.commit()
    store.close()

    answer = ask(odd, tmp_path / "out", *FEBRUARY)

    (file,) = table(answer, "attachments")
    with zipfile.ZipFile(answer["zip"]) as archive:
        assert archive.read(file["file"]) == certificate.read_bytes()
        archive.extractall(tmp_path / "out")
    (report,) = table(answer, "reports")
    assert (report["certificate"], report["vendor"]) == (file["sha256"], "Fixit Works")
    (removed,) = table(answer, "removed")
    assert (removed["key"], removed["reason"]) == ("noted", "two years are over")
    program = (tmp_path / "out" / "CHECK.txt").read_text(encoding="utf-8")
    python = program[program.index("# check.py") :]
    run = [sys.executable, "-c", python]
    checked = subprocess.run(run, cwd=tmp_path / "out", capture_output=True, text=True, check=False)
    assert checked.stdout == f"all is well, root {answer['root']}\n"
