"""What is left when the disk is full in the midst of a load, of marks, of an upgrade?

The database stands on a small file system in memory, and a ballast file leaves so many KB free; a
first trial has all the room it wants, and says how much that is. Needs root, to mount it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import NamedTuple

from fleet.storage import create, schema_state
from tests.postgres_server import new_database, server_user
from tests.studies.survival.children import command, marks, received, started
from tests.studies.survival.invented import FIRST_ON, Invented, entries, invented, write_files
from tests.studies.survival.places import Place, load_into, loaded, problems
from tests.studies.survival.raw import file_of, fingerprint, tables
from tests.studies.survival.results import Result, result_of
from tests.studies.survival.upgrades import cut_copies, old_database

__all__ = ["mountable", "on_postgresql", "on_sqlite", "study"]

KB = 1024
MARKS = 100
"""As many are tried on each disk, where it has room for them."""
LEFT = (0, 16, 40, 100, 240, 500, 900, 1400)


def study(places: list[Place], left: tuple[int, ...] = LEFT) -> list[Result]:
    """Full disks, on each database."""
    if not mountable():
        said = "skipped: needs root, to mount a small file system"
        return [Result("disk full", place.name, 0, 0, 0, 0, said) for place in places]
    return [row for place in places for row in (on_postgresql if place.address else on_sqlite)(
        place, left)]  # fmt: skip


def mountable() -> bool:
    """Whether a file system in memory can be mounted here."""
    if os.geteuid() != 0 or shutil.which("mount") is None:
        return False
    command = ["unshare", "--mount", "mount", "-t", "tmpfs", "none", "/mnt"]
    tried = subprocess.run(command, check=False, capture_output=True)
    return tried.returncode == 0


class Done(NamedTuple):
    """How a command ended, None where it was killed, and what it said."""

    returncode: int | None
    stderr: str


@contextmanager
def _small_disk(folder: Path, kilobytes: int) -> Iterator[Path]:
    size = f"size={kilobytes}k"
    subprocess.run(["mount", "-t", "tmpfs", "-o", size, "survival", str(folder)], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


@contextmanager
def _filled(folder: Path, kilobytes_left: int) -> Iterator[None]:
    """Leave so many KB free while inside."""
    ballast = folder / "ballast"
    free = os.statvfs(folder).f_bavail * os.statvfs(folder).f_frsize
    with ballast.open("wb") as file:
        os.posix_fallocate(file.fileno(), 0, max(1, free - kilobytes_left * KB))
    try:
        yield
    finally:
        ballast.unlink()


def on_sqlite(place: Place, left: tuple[int, ...] = LEFT, most: int = MARKS) -> list[Result]:
    """A SQLite file on a disk that is full."""
    fleet = invented(20, 60)
    more = _more(fleet)
    folder = str(write_files(more, place.new_folder(), only_entries=True))
    whole = str(write_files(fleet, place.new_folder()))
    ready = loaded(place, fleet)
    old = old_database(place, fleet, ready)
    rows: dict[str, list[list[str]]] = {"load": [], "first load": [], "marks": [], "upgrade": []}
    ends: dict[str, Counter[str]] = {name: Counter() for name in rows}
    with _small_disk(place.new_folder(), 8_000) as disk:
        small = replace(place, folder=disk)
        for kilobytes in left:
            for name, source, words in (
                ("load", ready, ("load", folder)),
                ("first load", None, ("load", whole)),
                ("upgrade", old, ("upgrade",)),
            ):
                url = small.fresh() if source is None else small.copied(source)
                rows[name].append(_commanded(url, words, disk, kilobytes, ends[name]))
                small.drop(url)
            url = small.copied(ready)
            rows["marks"].append(_marked(url, fleet, disk, kilobytes, ends["marks"], most))
            small.drop(url)
    return [
        result_of(f"disk full in {name}", place.name, wrongs, _told(ends[name]))
        for name, wrongs in rows.items()
    ]


def on_postgresql(place: Place, left: tuple[int, ...] = LEFT, most: int = MARKS) -> list[Result]:
    """A database in a tablespace on a full disk; the server's log of writes has another disk."""
    import psycopg

    fleet = invented(20, 60)
    folder = str(write_files(_more(fleet), place.new_folder(), only_entries=True))
    files = write_files(fleet, place.new_folder())
    wrongs: dict[str, list[list[str]]] = {"load": [], "marks": []}
    ends: dict[str, Counter[str]] = {name: Counter() for name in wrongs}
    folder_of_disk = Path(place.address) / "small"
    folder_of_disk.mkdir()
    with _small_disk(folder_of_disk, 40_000) as disk:
        user = server_user()
        if user is not None:
            shutil.chown(disk, user)
        with psycopg.connect(
            host=place.address, user="owner", dbname="postgres", autocommit=True
        ) as server:
            server.execute(f"CREATE TABLESPACE small LOCATION '{disk}'".encode())
            for kilobytes in left:
                url = new_database(place.address, options="TABLESPACE small")
                create(url)
                load_into(url, files)
                words = ("load", folder)
                wrongs["load"].append(_commanded(url, words, disk, kilobytes, ends["load"]))
                wrongs["marks"].append(_marked(url, fleet, disk, kilobytes, ends["marks"], most))
                place.drop(url)
            server.execute("DROP TABLESPACE small")
    remark = "; tablespace only, not the server's write-ahead log"
    return [
        result_of(f"disk full in {name}", place.name, wrong, _told(ends[name]) + remark)
        for name, wrong in wrongs.items()
    ]


def _more(fleet: Invented) -> Invented:
    numbers = [row["property_number"] for row in fleet.register["unit"]]
    return Invented(fleet.register, list(entries(numbers, FIRST_ON.replace(year=2024), 150)))


def _told(ends: Counter[str]) -> str:
    return ", ".join(f"{times} {end}" for end, times in sorted(ends.items()))


def _commanded(
    url: str, words: tuple[str, ...], disk: Path, kilobytes: int, ends: Counter[str]
) -> list[str]:
    """Run a command with so much room, look at what is left, and run it again with all room."""
    was = _state(url)
    with _filled(disk, kilobytes):
        done = _run(url, words)
        wrong = _wrong_words(done) if done.returncode else []
        wrong += _left_behind(url, refused=bool(done.returncode))
    ends["refused" if done.returncode else "had room"] += 1
    if (_state(url) == was) != bool(done.returncode):
        wrong.append(f"{words[0]} ended with {done.returncode}, and the database says otherwise")
    again = _run(url, words)
    if again.returncode or schema_state(url) != "current":
        wrong.append(f"with room it does not work again: {again.stderr}")
    return wrong + problems(url) + cut_copies(url, was)


def _run(url: str, words: tuple[str, ...]) -> Done:
    with NamedTemporaryFile() as errors:
        with started(partial(command, errors=errors.name), url, *words) as child:
            code = (received(child) or [None])[0]
        return Done(code, errors.read().decode())


def _wrong_words(done: Done) -> list[str]:
    lines = done.stderr.strip().splitlines()
    if done.returncode != 1 or len(lines) != 1 or not _says_full(lines[0]):
        return [f"exit {done.returncode}, said: {' / '.join(lines)[-200:]}"]
    return []


def _says_full(line: str) -> bool:
    return "free some space" in line or "see that the disk has room" in line


def _state(url: str) -> str:
    """All that stands, or 'missing'."""
    return "missing" if schema_state(url) == "missing" else fingerprint(tables(url))


def _left_behind(url: str, *, refused: bool) -> list[str]:
    file = file_of(url)
    if file is None or not refused:
        return []
    known = {file.name, f"{file.name}-wal", f"{file.name}-shm"}
    known |= {copy.name for copy in file.parent.glob("*-before-*.db")}
    left = {path.name for path in file.parent.iterdir()} - known
    return [f"{name} is left behind" for name in sorted(left)]


def _marked(
    url: str, fleet: Invented, disk: Path, kilobytes: int, ends: Counter[str], most: int
) -> list[str]:
    """Mark until the disk is full; all that was acknowledged must stand, and marks go on after."""
    numbers = [row["property_number"] for row in fleet.register["unit"]]
    with _filled(disk, kilobytes), started(marks, url, numbers, most) as child:
        told = received(child)
    keys = [one for one in told if isinstance(one, str)]
    errors = [str(one) for one in told if not isinstance(one, str)]
    ends["refused" if errors else "had room"] += 1
    wrong = [f"said: {error}" for error in errors if not _says_full(error)]
    stand = Counter(row["key"] for row in tables(url)["entry"] if "/study/" in row["key"])
    wrong += [f"{key} stands {stand[key]} times" for key in keys if stand[key] != 1]
    if len(stand) != len(keys):
        wrong.append(f"{len(stand)} stand, {len(keys)} were acknowledged")
    with started(marks, url, numbers, most + 10) as child:
        again = received(child)
    if len(again) != most + 10 or not all(isinstance(one, str) for one in again):
        wrong.append(f"with room marks do not go on: {again[-1:]}")
    return wrong + problems(url)
