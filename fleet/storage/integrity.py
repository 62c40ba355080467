"""Does the database itself find its file whole? Indexes are no lines, and no chain covers them."""

from __future__ import annotations

from collections.abc import Iterator

import sqlalchemy as sa

from fleet.domain.chain import Flaw

__all__ = ["file_flaws"]


def file_flaws(connection: sa.Connection) -> Iterator[Flaw]:
    """The first thing that SQLite's own check finds wrong; PostgreSQL has none to be asked here."""
    if connection.dialect.name != "sqlite":
        return
    said = connection.exec_driver_sql("PRAGMA integrity_check(1)").scalar()
    if said != "ok":
        found = " ".join(str(said).split())
        yield Flaw("file", None, "", f"SQLite's integrity check finds: {found}")
