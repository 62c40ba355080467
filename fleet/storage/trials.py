"""Where can what writes be tried without anybody waiting for it? On a copy that is then gone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from fleet.errors import StoreError
from fleet.storage.sqlite_copies import copy_live
from fleet.storage.store import SqlStore, open_store

__all__ = ["named", "trial_of"]


@contextmanager
def trial_of(file: Path, clock: Callable[[], dt.datetime]) -> Iterator[SqlStore]:
    """A copy of a SQLite database as it is now, for as long as the block lasts.

    The database itself is only read, so whoever writes to it meanwhile does not wait.
    """
    with TemporaryDirectory(prefix="dueward-") as folder:
        made = Path(folder) / "trial.db"
        with named(made, file):
            copy_live(file, made)
            store = open_store(f"sqlite:///{made}", clock=clock)
            try:
                yield store
            finally:
                store.close()


@contextmanager
def named(made: Path, file: Path | None) -> Iterator[None]:
    """Speak of the database a person named where another one, under its first name, is refused."""
    try:
        yield
    except StoreError as error:
        raise StoreError(str(error).replace(str(made), str(file or made.name))) from error
