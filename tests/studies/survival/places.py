"""Where does a database of a trial stand? In a folder of its own, or on the private server."""

from __future__ import annotations

import itertools
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

from fleet.services.load import load
from fleet.storage import create, open_store
from fleet.wiring import utc_now
from tests.fakes import NoProgress
from tests.postgres_server import new_database, programs, running
from tests.studies.survival import verifying
from tests.studies.survival.evidence import flaws
from tests.studies.survival.invented import STORED_AT, Invented, write_files
from tests.studies.survival.programs import program
from tests.studies.survival.raw import file_of, tables

__all__ = ["Place", "load_into", "loaded", "places", "problems"]

_SERIAL = itertools.count(1)


@dataclass(frozen=True)
class Place:
    """One of the two databases; `folder` is for files, gone at the end."""

    name: str
    folder: Path
    address: str = field(default="", repr=False)
    """The socket of the server; '' for SQLite."""

    def fresh(self) -> str:
        """The address of a database that is not there yet (SQLite) or empty (PostgreSQL)."""
        if self.address:
            return new_database(self.address)
        return f"sqlite:///{self.new_folder() / 'fleet.db'}"

    def copied(self, url: str) -> str:
        """The address of a copy of a database that nobody has open."""
        if self.address:
            name = url.partition("@/")[2].partition("?")[0]
            return new_database(self.address, template=name)
        target = self.fresh()
        source = file_of(url)
        assert source is not None
        assert not source.with_name(f"{source.name}-wal").exists()
        shutil.copy(source, target.removeprefix("sqlite:///"))
        return target

    def drop(self, url: str) -> None:
        """Remove a trial's database, so that the disk does not fill."""
        file = file_of(url)
        if file is not None:
            shutil.rmtree(file.parent)
            return
        import psycopg

        name = url.partition("@/")[2].partition("?")[0]
        with psycopg.connect(
            host=self.address, user="owner", dbname="postgres", autocommit=True
        ) as server:
            server.execute(f"DROP DATABASE {name} WITH (FORCE)".encode())

    def new_folder(self) -> Path:
        """An empty folder."""
        folder = self.folder / f"{next(_SERIAL):04}"
        folder.mkdir()
        return folder


@contextmanager
def places() -> Iterator[list[Place]]:
    """SQLite, and PostgreSQL where it is installed."""
    with TemporaryDirectory(prefix="survival-") as name:
        folder = programs()
        sqlite = Place("SQLite", Path(name))
        if folder is None:
            yield [sqlite]
            return
        with running(folder) as address:
            yield [sqlite, Place("PostgreSQL", Path(name), address)]


def loaded(place: Place, fleet: Invented) -> str:
    """The address of a new database with a fleet in it, loaded at STORED_AT."""
    url = place.fresh()
    create(url)
    load_into(url, write_files(fleet, place.new_folder()))
    return url


def load_into(url: str, folder: Path) -> None:
    """Load a folder's files."""
    of = program(url, STORED_AT)
    with closing(open_store(url, clock=of.clock)) as store:
        load(
            store,
            of.reader([folder]),
            of.public_holidays,
            of.rebuild,
            stamp=of.stamp("file"),
            progress=NoProgress(),
        )


def problems(url: str) -> list[str]:
    """What is wrong with a database; the program opens it first, as the next command does."""
    with closing(open_store(url, clock=utc_now)) as store, store.begin() as record:
        list(record.entries())
    said = flaws(tables(url)) + verifying.said(url)
    file = file_of(url)
    if file is not None:
        with closing(sqlite3.connect(file)) as opened:
            told = opened.execute("PRAGMA integrity_check").fetchall()
        if told != [("ok",)]:
            said.append(f"integrity_check: {told[0][0]}")
    return said
