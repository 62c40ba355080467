"""Which exports are refused, by what words, and is nothing left of them?"""

from __future__ import annotations

import errno
import shutil
import subprocess
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from fleet.storage import SqlStore, create, open_store
from fleet.storage.canonical import START, link
from tests.fleet.exported import DEMO, NOW, contents, fill, folder_bytes, run
from tests.fleet.storage.examples import ENTRY, STAMP, add, load_units

MEND = "load the export as it was written, or the changed CSV files without lines.tsv"


def _change(path: Path, old: bytes, by: bytes) -> None:
    content = path.read_bytes()
    assert content.count(old) >= 1
    path.write_bytes(content.replace(old, by, 1))


def _sum_again(folder: Path) -> None:
    """Write SHA256SUMS anew, as someone would who wants a changed line to be taken."""
    names = sorted(name for name in folder_bytes(folder) if name != "SHA256SUMS")
    done = subprocess.run(["sha256sum", *names], cwd=folder, capture_output=True, check=True)
    (folder / "SHA256SUMS").write_bytes(done.stdout)


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (
            lambda out: _change(out / "units.csv", b"M-900", b"M-901"),
            f"units.csv: it was changed after it was written; {MEND}",
        ),
        (
            lambda out: (out / "sites.csv").unlink(),
            f"sites.csv: SHA256SUMS names it, but it is missing; {MEND}",
        ),
        (
            lambda out: (out / "more.csv").write_text("x\n"),
            f"more.csv: SHA256SUMS does not name it; move it away, or {MEND}",
        ),
        (
            lambda out: (out / "SHA256SUMS").unlink(),
            f"SHA256SUMS: it is missing beside lines.tsv; {MEND}",
        ),
        (
            lambda out: (out / "SHA256SUMS").write_text("what is this\n"),
            "SHA256SUMS row 1: 'what is this' is not a hash and the name of a file; " + MEND,
        ),
        (
            lambda out: _change(out / "lines.tsv", b"\n", b""),
            f"lines.tsv: it was changed after it was written; {MEND}",
        ),
    ],
    ids=["changed", "missing", "extra", "no sums", "strange sums", "truncated"],
)
def test_an_export_that_is_not_as_it_was_written_is_refused(
    rich: str, tmp_path: Path, spoil: Callable[[Path], object], told: str
) -> None:
    out = tmp_path / "out"
    run("export", str(out), database=rich)
    spoil(out)
    copy = tmp_path / "copy.db"
    assert run("load", str(out), database=f"sqlite:///{copy}", code=2) == told + "\n"
    assert not copy.exists()


AS_WRITTEN = "load the export as it was written"


def _cut_last_bytes(out: Path) -> None:
    lines = out / "lines.tsv"
    lines.write_bytes(lines.read_bytes()[:-5])


def _drop_line(out: Path, start: bytes) -> None:
    lines = (out / "lines.tsv").read_bytes().splitlines(keepends=True)
    (out / "lines.tsv").write_bytes(b"".join(x for x in lines if not x.startswith(start)))


def _to_the_end(out: Path, start: bytes) -> None:
    lines = (out / "lines.tsv").read_bytes().splitlines(keepends=True)
    moved_lines = [line for line in lines if line.startswith(start)]
    kept = [line for line in lines if not line.startswith(start)]
    (out / "lines.tsv").write_bytes(b"".join([*kept, *moved_lines]))


def _units_and_prints_to_the_end(out: Path) -> None:
    _to_the_end(out, b"register/unit\t")
    _to_the_end(out, b"register/chart_print\t")


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (
            lambda out: _change(out / "lines.tsv", b'"initials":"RA"', b'"initials":"RB"'),
            "lines.tsv, chain entry/00417, line 1:"
            " its hash is not that of its text and the line before; " + AS_WRITTEN,
        ),
        (
            lambda out: _drop_line(out, b"entry/00417\t2\t"),
            f"lines.tsv, chain entry/00417, line 3: line 2 should stand here; {AS_WRITTEN}",
        ),
        (
            lambda out: _change(out / "lines.tsv", b"register/site\t", b"register/sight\t"),
            f"lines.tsv, chain register/sight, line 1: there is no such chain; {AS_WRITTEN}",
        ),
        (
            lambda out: _to_the_end(out, b"register/unit\t"),
            "lines.tsv, chain register/chart_print, line 2:"
            " it speaks of what no line before it tells of; " + AS_WRITTEN,
        ),
        (
            _units_and_prints_to_the_end,
            "lines.tsv, chain entry/00417, line 1: no line before it tells of a unit '00417'; "
            + AS_WRITTEN,
        ),
        (
            lambda out: _to_the_end(out, b"entry/00417\t1\t"),
            f"lines.tsv, chain entry/00417, line 2: line 1 should stand here; {AS_WRITTEN}",
        ),
        (_cut_last_bytes, f"lines.tsv row 19: the line is cut off; {AS_WRITTEN}"),
        (
            lambda out: _change(out / "lines.tsv", b"\t", b" "),
            "lines.tsv row 1: it is not chain, number, hash and content, parted by tabs; "
            + AS_WRITTEN,
        ),
        (
            lambda out: _change(out / "lines.tsv", "😀".encode(), b"\xff"),
            f"lines.tsv row 6: the text is not UTF-8; {AS_WRITTEN}",
        ),
        (
            lambda out: next((out / "attachments").glob("*.pdf")).write_bytes(b"another"),
            "attachments/{pdf}: it is another file than the one attached; " + AS_WRITTEN,
        ),
        (
            lambda out: shutil.rmtree(out / "attachments"),
            "lines.tsv, chain attachment, line 1 (report.pdf):"
            " its content is gone and was not disposed of; " + AS_WRITTEN,
        ),
        (
            lambda out: _change(
                out / "lines.tsv", b'"key":"d","mark":"unused"', b'"key":"d","mark":"done"'
            ),
            "lines.tsv, chain entry/00417, line 4 (d):"
            f" it was changed after it was written; {AS_WRITTEN}",
        ),
    ],
    ids=[
        "edited line",
        "line left out",
        "no such chain",
        "units after their prints",
        "units after their entries",
        "lines exchanged",
        "cut off",
        "no tab",
        "no utf-8",
        "other attachment",
        "no attachments",
        "other text of a removed line",
    ],
)
def test_a_changed_line_is_found_even_with_its_sums_made_anew(
    store: SqlStore,
    fleet_url: str,
    tmp_path: Path,
    spoil: Callable[[Path], object],
    told: str,
    other_url: Callable[[str], str],
) -> None:
    out = tmp_path / "out"
    fill(store)
    run("export", str(out), database=fleet_url)
    pdf = next((out / "attachments").glob("*.pdf")).stem
    spoil(out)
    _sum_again(out)
    copy = other_url(fleet_url.partition(":")[0])
    create(copy)
    empty = contents(copy)
    assert run("load", str(out), database=copy, code=2) == told.replace("{pdf}", pdf) + "\n"
    assert contents(copy) == empty


def test_a_line_hashed_anew_is_refused_by_the_root_that_covers_it(
    store: SqlStore, fleet_url: str, tmp_path: Path, other_url: Callable[[str], str]
) -> None:
    out = tmp_path / "out"
    load_units(store)
    add(store, ENTRY)
    with store.begin(write=True) as record:
        (entry,) = record.lines(["entry/M-001"])
        root = record.seal(STAMP).root
        record.commit()
    run("export", str(out), database=fleet_url)
    forged = entry.content.replace('"initials":"RA"', '"initials":"RB"')
    for old, new in ((entry.hash.hex(), link(START, forged).hex()), (entry.content, forged)):
        _change(out / "lines.tsv", old.encode(), new.encode())
    _sum_again(out)
    copy = other_url(fleet_url.partition(":")[0])
    create(copy)
    empty = contents(copy)

    assert run("load", str(out), database=copy, code=2) == (
        f"lines.tsv, chain seal, line 1 ({root}): the root given out at"
        " 2026-03-02T12:00:00.000000Z does not hold: what it covers was written anew since;"
        f" {AS_WRITTEN}\n"
    )
    assert contents(copy) == empty


def test_a_hash_made_anew_for_text_of_another_form_is_refused(rich: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run("export", str(out), database=rich)
    row = next(
        line
        for line in (out / "lines.tsv").read_text(encoding="utf-8").split("\n")
        if line.startswith("seal\t1\t")
    )
    content = row.split("\t")[3]
    for forged in (content.replace(":", ": ", 1), content.replace('"seq":1', '"seq":"1"'), "[]"):
        digest = link(START, forged).hex()
        text = (out / "lines.tsv").read_text(encoding="utf-8")
        other = tmp_path / "other"
        shutil.copytree(out, other)
        (other / "lines.tsv").write_text(
            text.replace(row, f"seal\t1\t{digest}\t{forged}"), encoding="utf-8"
        )
        _sum_again(other)
        told = run("load", str(other), database=f"sqlite:///{tmp_path / 'c.db'}", code=2)
        assert told == (
            "lines.tsv, chain seal, line 1: its text is not one this program writes; "
            f"{AS_WRITTEN}\n"
        )
        shutil.rmtree(other)


def test_a_database_with_another_record_is_left_alone(rich: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run("export", str(out), database=rich)
    with closing(open_store(rich, clock=lambda: NOW)) as store, store.begin(write=True) as record:
        record.append([replace(ENTRY, key="new", property_number="M-900")], STAMP)
        record.commit()
    before = contents(rich)
    assert run("load", str(out), database=rich, code=2) == (
        "lines.tsv, chain entry/M-002, line 2: the database holds another record;"
        " load the export into a new database: name one with --database\n"
    )
    assert contents(rich) == before


def test_an_export_is_loaded_by_itself_and_as_a_folder(rich: str, tmp_path: Path) -> None:
    out, copy = tmp_path / "out", f"sqlite:///{tmp_path / 'c.db'}"
    run("export", str(out), database=rich)
    assert run("load", str(out), str(DEMO), database=copy, code=2) == (
        f"{out}: an export is loaded by itself; load what else there is after it\n"
    )
    assert run("load", str(out / "lines.tsv"), database=copy, code=2) == (
        f"{out / 'lines.tsv'}: it is read together with the SHA256SUMS and the attachments beside"
        " it; name the folder in which it stands\n"
    )


def test_a_dry_run_tells_the_same_and_keeps_nothing(rich: str, tmp_path: Path) -> None:
    out, copy = tmp_path / "out", tmp_path / "c.db"
    run("export", str(out), database=rich)
    told = run("load", str(out), "--dry-run", database=f"sqlite:///{copy}")
    assert not copy.exists()
    assert run("load", str(out), database=f"sqlite:///{copy}") == told


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda p: (p.mkdir(), (p / "x").touch()), "the folder is not empty; name a new folder"),
        (lambda p: p.touch(), "there is a file of that name; name a new folder"),
    ],
)
def test_an_export_takes_no_place_that_is_taken(
    rich: str, tmp_path: Path, make: Callable[[Path], object], told: str
) -> None:
    out = tmp_path / "out"
    make(out)
    assert run("export", str(out), database=rich, code=2) == f"{out}: {told}\n"


def test_an_export_fills_a_folder_that_is_empty(rich: str, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    run("export", str(tmp_path / "out"), database=rich)
    assert (tmp_path / "out" / "SHA256SUMS").exists()


def test_a_full_disk_leaves_nothing_of_an_export(
    rich: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    (tmp_path / "in").mkdir()
    monkeypatch.setattr("fleet.files.export_files.os.fsync", full)
    out = tmp_path / "in" / "out"
    assert run("export", str(out), database=rich, code=1) == (
        f"{out}: the disk is full, and nothing was left behind; free some space, then run the"
        " command again\n"
    )
    assert list((tmp_path / "in").iterdir()) == []
