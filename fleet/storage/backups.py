"""How is a live database copied to a file, and put back in a fresh place? Checked both times.

Nothing half-written is left: a copy is made under another name beside its place, and takes the
place when it has been checked. Nothing that stands is overwritten, unless it is asked for by name.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlalchemy.engine import URL

from fleet.domain.chain import Flaw
from fleet.errors import StoreError
from fleet.services.checked import Checked, checked, mend_kept
from fleet.services.disk import disk_told
from fleet.services.load_ports import Progress
from fleet.services.ports import Record
from fleet.storage.append_only import install
from fleet.storage.engines import (
    WRITE,
    file_of,
    look_only_engine,
    make_engine,
    parse_url,
    place_of,
)
from fleet.storage.lifecycle import SchemaState, create, schema_state
from fleet.storage.postgres_dumps import BEGINNING, dump, read_dump
from fleet.storage.record import SqlRecord
from fleet.storage.refusals import in_words
from fleet.storage.role_grants import grant_again
from fleet.storage.sqlite_copies import (
    at_rest,
    copy_live,
    counts_of,
    damage_of,
    schema_differences,
)

__all__ = ["Backup", "Restored", "back_up", "restore"]

Rebuild = Callable[[Record, Sequence[int]], None]

_MORE = {
    "missing": "there is no fleet here yet, so there is nothing to back up",
    "newer": "it was made by a later version of this program; back it up with that version",
}
_ANOTHER = "take another backup"


@dataclass(frozen=True, slots=True)
class Backup:
    """A copy that was made."""

    file: Path
    bytes: int
    sha256: str
    checked: Checked | None
    """None for a database of an earlier version, whose chains this one cannot walk."""


@dataclass(frozen=True, slots=True)
class Restored:
    """A database that was put in its place."""

    place: str
    checked: Checked | None
    """None for a database of an earlier version, which needs `dueward upgrade`."""
    mended: int
    """Of so many units the kept days were not as their entries have them."""


def back_up(url: str, file: Path, *, over: bool, progress: Progress) -> Backup:
    """Copy a database that may be in use to a file, and check the copy.

    over: whether a file that is there is replaced. Raises StoreError; then nothing is left, and
    a file that was there stands as it was.
    """
    place, state = parse_url(url), schema_state(url)
    if state in _MORE:
        raise StoreError(f"{place_of(place)}: {_MORE[state]}")
    _check_target(file, file_of(place), over=over)
    with _made_beside(file) as made:
        if source := file_of(place):
            found = _copy_sqlite(source, made, progress, is_current=state == "current")
        else:
            found = dump(place, made, progress, is_current=state == "current")
        _sync(made)
        with made.open("rb") as copy:
            sha256 = hashlib.file_digest(copy, "sha256").hexdigest()
        size = made.stat().st_size
        _put(made, file.resolve(), over=over)
    return Backup(file, size, sha256, found)


def _check_target(file: Path, database: Path | None, *, over: bool) -> None:
    if not file.resolve().parent.is_dir():
        raise StoreError(f"{file}: there is no folder {file.parent}; make it first")
    if file.is_dir():
        raise StoreError(f"{file}: that is a folder; name a file in it")
    own = [] if database is None else [database, *_logs(database)]
    if any(file.resolve() == part.resolve() for part in own) or (
        file.exists() and database is not None and file.samefile(database)
    ):
        raise StoreError(f"{file}: that is the database itself; name another file")
    _refuse_logs(file, "file")
    if file.exists() and not over:
        raise StoreError(
            f"{file}: there is a file of that name; name another, or say --replace to replace it"
        )


def _refuse_logs(file: Path, other: str) -> None:
    """A log that is left beside a database would be played back into it."""
    for log in _logs(file):
        if log.exists() and log.stat().st_size:
            raise StoreError(
                f"{file}: {log.name} of another database is left beside it; move it away,"
                f" or name another {other}"
            )


def _copy_sqlite(
    source: Path, made: Path, progress: Progress, *, is_current: bool
) -> Checked | None:
    counts = copy_live(source, made)
    made.chmod(source.stat().st_mode & 0o777)
    problem = damage_of(made)
    if problem is None and counts_of(made) != counts:
        problem = "the copy has not as many rows as the database"
    if problem is not None:
        mend = "no copy was kept; restore the last backup"
        raise StoreError(f"{source}: the database is damaged: {problem}; {mend}")
    if not is_current:
        return None
    with _renamed(made, source):
        return _look(_url_of(made), progress)


def _look(place: URL, progress: Progress) -> Checked:
    """Walk the chains of a file at rest, changing nothing in it."""
    engine = look_only_engine(place)
    with in_words(engine), closing(engine.connect()) as connection:
        return checked(SqlRecord(connection, write=False), progress)


def restore(
    url: str, file: Path, rebuild: Rebuild, *, anyway: bool, progress: Progress
) -> Restored:
    """Put a backup in a fresh place: a missing or empty file, a database without tables.

    `rebuild` works out anew what is kept of units. anyway: whether a backup is restored whose
    chains are not as they were written. Raises StoreError, and then leaves nothing.
    """
    target, database = parse_url(url), file_of(parse_url(url))
    beginning = _beginning(file)
    if beginning[: len(BEGINNING)] == BEGINNING and database is not None:
        raise StoreError(
            f"{file}: this is a backup of a PostgreSQL database; name one with --database"
            " (to change from one kind to the other, use dueward export and dueward load)"
        )
    if schema_state(url) != "missing":
        raise StoreError(
            f"{place_of(target)}: there is a fleet here already; name a new database with"
            " --database"
        )
    how = _How(file, rebuild, progress, anyway=anyway)
    if database is not None:
        return _restore_sqlite(database, how)
    if beginning[: len(BEGINNING)] != BEGINNING:
        raise StoreError(
            f"{file}: this is no backup of a PostgreSQL database; name another file, or a"
            " SQLite database with --database sqlite:///FILE"
        )
    found: list[Restored] = []
    read_dump(target, file, lambda: found.append(_accepted(target, place_of(target), how)))
    return found[0]


@dataclass(frozen=True, slots=True)
class _How:
    file: Path
    rebuild: Rebuild
    progress: Progress
    anyway: bool


def _beginning(file: Path) -> bytes:
    if file.is_dir():
        raise StoreError(f"{file}: that is a folder; name the backup's file")
    with disk_told(file), file.open("rb") as opened:
        return opened.read(16)


def _restore_sqlite(database: Path, how: _How) -> Restored:
    if not database.resolve().parent.is_dir():
        raise StoreError(f"{database}: there is no folder {database.parent}; make it first")
    _refuse_logs(database, "place")
    if any(log.exists() and log.stat().st_size for log in _logs(how.file)):
        raise StoreError(
            f"{how.file}: this database is in use, its log stands beside it; take a backup with"
            " dueward backup, and restore that"
        )
    with _made_beside(database) as made:
        shutil.copyfile(how.file, made)
        made.chmod(how.file.stat().st_mode & 0o777 | 0o600)
        if (problem := damage_of(made)) is not None:
            raise StoreError(f"{how.file}: it is damaged: {problem}; {_ANOTHER}")
        with _renamed(made, how.file):
            _check_schema(made, how)
            restored = _accepted(_url_of(made), str(database), how)
        at_rest(made)
        _sync(made)
        _put(made, database.resolve(), over=database.exists())
    return restored


def _check_schema(made: Path, how: _How) -> None:
    """Hold the tables, indexes and triggers of a copy against those of a database made anew."""
    if schema_state(_address(made)) != "current" or how.anyway:
        return
    anew = made.with_name("anew.db")
    create(_address(anew))
    if differs := schema_differences(made, anew):
        problem = f"'{differs[0]}' in its schema is missing or was changed"
        raise StoreError(f"{how.file}: it is damaged: {problem}; {_ANOTHER}")


def _accepted(place: URL, name: str, how: _How) -> Restored:
    """Check what stands in a place that is not given away yet; StoreError where it is refused."""
    state: SchemaState = schema_state(place.render_as_string(hide_password=False))
    if state == "older":
        return Restored(name, None, 0)
    if state != "current":
        mend = {
            "missing": f"there is no fleet in it; {_ANOTHER}",
            "newer": "it was made by a later version of this program; install that version",
        }
        raise StoreError(f"{how.file}: {mend[state]}")
    engine = make_engine(place)
    try:
        with (
            in_words(engine),
            engine.connect().execution_options(**{WRITE: True}) as connection,
            connection.begin() as work,
        ):
            record = SqlRecord(connection, write=True)
            install(connection)
            found = checked(record, how.progress)
            if found.flaws and not how.anyway:
                raise StoreError(f"{how.file}: {_told(found.flaws)}")
            grant_again(connection)
            mended = mend_kept(record, how.rebuild)
            work.commit()
    finally:
        engine.dispose()
    return Restored(name, found, mended)


def _told(flaws: Sequence[Flaw]) -> str:
    first = flaws[0]
    place = f"chain {first.chain}"
    place += "" if first.seq is None else f", line {first.seq}"
    place += f" ({first.key})" if first.key else ""
    more = "" if len(flaws) == 1 else f", and {len(flaws) - 1} more such places"
    return (
        f"it is damaged: {place}: {first.problem}{more}; {_ANOTHER}, or say --anyway to restore"
        " it as it is"
    )


@contextmanager
def _made_beside(target: Path) -> Iterator[Path]:
    """Give a file to make beside its place, in a folder that is gone afterwards."""
    with (
        disk_told(target),
        TemporaryDirectory(dir=target.resolve().parent, prefix=".dueward-") as folder,
    ):
        yield Path(folder) / "made.db"


@contextmanager
def _renamed(made: Path, file: Path) -> Iterator[None]:
    """Speak of the file a person named where one that is only being made is refused."""
    try:
        yield
    except StoreError as error:
        raise StoreError(str(error).replace(str(made), str(file))) from error
    except UnicodeDecodeError as error:
        raise StoreError(f"{file}: it is damaged: a text in it is not UTF-8; {_ANOTHER}") from error


def _put(made: Path, target: Path, *, over: bool) -> None:
    """Give a file its place, and make that durable."""
    if over:
        made.replace(target)
    else:
        try:
            os.link(made, target)
        except FileExistsError:
            raise StoreError(
                f"{target}: another program made it meanwhile; run the command again"
            ) from None
        except OSError:  # a file system without links
            made.replace(target)
    if os.name == "posix":
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _sync(file: Path) -> None:
    with file.open("rb+") as opened:
        os.fsync(opened.fileno())


def _logs(database: Path) -> list[Path]:
    """What SQLite may keep beside a database."""
    return [database.with_name(database.name + end) for end in ("-wal", "-shm", "-journal")]


def _url_of(file: Path) -> URL:
    return URL.create("sqlite", database=str(file))


def _address(file: Path) -> str:
    return _url_of(file).render_as_string()
