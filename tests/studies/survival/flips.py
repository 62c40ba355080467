"""Is one flipped byte in a SQLite file ever silent? Many random offsets, on copies.

A flip is told on opening, by integrity_check, or by the chains; or all that is read is as it was
(free pages, unused space, a word in the schema's text). Anything else is silent, and a failure.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import random
import shutil
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path

from fleet.domain.evidence import Attachment, Review
from fleet.domain.register import Change
from fleet.errors import FleetError
from fleet.services.mark import mark, strike
from fleet.storage import open_store
from fleet.wiring import utc_now
from tests.studies.survival import verifying
from tests.studies.survival.children import entry_of
from tests.studies.survival.evidence import flaws
from tests.studies.survival.invented import STORED_AT, invented
from tests.studies.survival.places import Place, loaded
from tests.studies.survival.programs import program
from tests.studies.survival.raw import Tables, file_of, tables
from tests.studies.survival.results import Result, result_of
from tests.studies.survival.upgrades import answers

__all__ = ["filled_database", "study", "tried"]

SEED = 20260702


def study(places: list[Place], tries: int) -> list[Result]:
    """So many flips, each on a copy of its own; SQLite only."""
    ready = filled_database(places[0])
    ends: Counter[str] = Counter()
    drawn, size = random.Random(SEED), ready.stat().st_size
    truth = _truth(ready)
    wrongs = []
    for _ in range(tries):
        offset, bit = drawn.randrange(size), 1 << drawn.randrange(8)
        end = tried(ready, offset, bit, truth)
        ends[end] += 1
        wrongs.append([f"byte {offset}: {end}"] if end.startswith("silent") else [])
    told = ", ".join(f"{times} {end}" for end, times in ends.most_common())
    return [result_of("a flipped bit", "SQLite", wrongs, f"{size // 1024} KB: {told}")]


def filled_database(place: Place) -> Path:
    """A database with a line in each chain but the tombstones', and room that is free."""
    url = loaded(place, invented(6, 60))
    of = program(url, STORED_AT)
    stamp = of.stamp("command")
    with closing(open_store(url, clock=of.clock)) as store, store.begin(write=True) as record:
        content = b"certificate " * 3000
        name = hashlib.sha256(content).hexdigest()
        record.attach(Attachment(name, "c.pdf", "application/pdf", len(content)), content, stamp)
        review = Review(site="alder", month="2026-01", reviewed_by="RM")
        record.change([Change(old=None, new=review, initial=False)], stamp)
        entry = entry_of("own", "M-001", dt.date(2026, 2, 27))
        mark(record, of.public_holidays, entry, anyway=True, stamp=stamp)
        strike(record, of.public_holidays, "own", "slip", None, stamp=stamp)
        record.seal(stamp)
        record.commit()
    file = file_of(url)
    assert file is not None
    with closing(sqlite3.connect(file)) as opened:
        opened.execute("CREATE TABLE gone (text TEXT)")
        opened.executemany("INSERT INTO gone VALUES (?)", [("x" * 900,)] * 60)
        opened.execute("DROP TABLE gone")
        opened.commit()
    return file


def _truth(file: Path) -> tuple[Tables, object, object]:
    url = f"sqlite:///{file}"
    return tables(url), _schema(file), answers(url)


def _schema(file: Path) -> list[tuple[str, ...]]:
    with closing(sqlite3.connect(file)) as opened:
        return opened.execute("SELECT type, name, tbl_name, sql FROM sqlite_master").fetchall()


def tried(
    ready: Path, offset: int, bit: int, truth: tuple[Tables, object, object] | None = None
) -> str:
    """Flip one bit of a copy and say how it is told: 'silent …' where it is not."""
    folder = ready.parent / "flipped"
    folder.mkdir()
    copy = folder / "fleet.db"
    shutil.copy(ready, copy)
    try:
        with copy.open("rb+") as file:
            file.seek(offset)
            old = file.read(1)[0]
            file.seek(offset)
            file.write(bytes([old ^ bit]))
        return _told(copy, truth or _truth(ready))
    finally:
        shutil.rmtree(folder)


def _told(copy: Path, truth: tuple[Tables, object, object]) -> str:
    url = f"sqlite:///{copy}"
    try:
        with closing(open_store(url, clock=utc_now)) as store, store.begin() as record:
            record.register()
            list(record.entries())
            answered = answers(url)
        by_program = verifying.said(url)
    except FleetError:
        return "told on opening or reading"
    except Exception as error:
        return f"told on reading, not in words ({type(error).__name__})"
    if by_program:
        return "told by verify"
    try:
        found, schema, checked = tables(url), _schema(copy), _integrity(copy)
    except (sqlite3.Error, UnicodeDecodeError):
        return "told by SQLite where all is read"
    if checked != "ok":
        return "told by integrity_check"
    if flaws(found):
        return "silent to verify, told by the chains"
    if (found, answered) != (truth[0], truth[2]):
        return "silent"
    same = schema == truth[1]
    return "nothing that is read changed" if same else "only the schema's text changed, unnoticed"


def _integrity(file: Path) -> str:
    with closing(sqlite3.connect(file)) as opened:
        return str(opened.execute("PRAGMA integrity_check").fetchone()[0])
