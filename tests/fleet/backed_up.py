"""Backups made and put back, and looks into databases behind the program."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa

from fleet.errors import StoreError
from fleet.storage.backups import Backup, Restored, back_up, restore
from fleet.wiring import program
from tests.fakes import NoProgress
from tests.fleet.exported import contents as all_contents
from tests.fleet.storage.examples import engine_of

__all__ = ["contents", "put_back", "refusal_of", "saved", "tables", "written"]


def contents(url: str) -> tuple[object, ...]:
    """All that a record holds but what is kept of units, which a restore works out anew."""
    return all_contents(url)[:-1]


def put_back(url: str, file: Path, *, anyway: bool = False) -> Restored:
    rebuild = program(url).rebuild
    return restore(url, file, rebuild, anyway=anyway, progress=NoProgress())


def refusal_of(url: str, file: Path) -> str | None:
    """The words by which a backup is refused; None where it is restored."""
    try:
        put_back(url, file)
    except StoreError as refused:
        return str(refused)
    return None


@contextmanager
def written(url: str) -> Iterator[sa.Connection]:
    """A way into the database of one who knows nothing of our rules."""
    engine = engine_of(url)
    try:
        with engine.begin() as connection:
            yield connection
    finally:
        engine.dispose()


def saved(url: str, file: Path, *, over: bool = False) -> Backup:
    return back_up(url, file, over=over, progress=NoProgress())


def tables(url: str) -> list[str]:
    if url.startswith("sqlite"):
        file = Path(url.removeprefix("sqlite:///"))
        return [path.name for path in file.parent.iterdir() if path.name.startswith(file.name)]
    with written(url) as connection:
        query = "SELECT relname FROM pg_class WHERE relnamespace = 'public'::regnamespace"
        functions = "SELECT proname FROM pg_proc WHERE pronamespace = 'public'::regnamespace"
        rows = [*connection.exec_driver_sql(query), *connection.exec_driver_sql(functions)]
        return [name for (name,) in rows]
