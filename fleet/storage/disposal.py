"""How does content leave the record when its time is over? Blanked in place, a tombstone for each.

The trigger that keeps lines from being changed is taken off one table and put back in the same
transaction: what breaks in between leaves all as it was. The hashes stay, so that the chains do.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from operator import itemgetter
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import URL

from fleet.domain.chain import Head
from fleet.domain.records import REMOVED
from fleet.errors import StoreError
from fleet.services.ports import Stamp
from fleet.storage import append_only
from fleet.storage.bulk import chunks
from fleet.storage.chains import append_lines
from fleet.storage.engines import look_only_engine, place_of
from fleet.storage.head_rows import entry_chain, read_heads
from fleet.storage.lifecycle import require_current
from fleet.storage.line_rows import raw_lines
from fleet.storage.refusals import in_words
from fleet.storage.schema import attachment, attachment_content, entry, tombstone, unit
from fleet.storage.tombstones import left_hash

__all__ = ["heads_in", "remove"]

_STONE = ("of_chain", "of_seq", "key", "of_hash", "left_hash", "reason")
_Gone = tuple[str, int, str, str]
_Stone = tuple[str, int, str, str, str, str]


def remove(
    connection: sa.Connection,
    keys: Sequence[str],
    files: Sequence[str],
    reason: str,
    stamp: Stamp,
) -> None:
    """Blank entries and drop the content of files, in the transaction that is under way.

    Raises StoreError on PostgreSQL where another role owns the tables.
    """
    if not _is_owned(connection):
        raise StoreError(
            f"{place_of(connection.engine.url)}: only the role that owns the tables may remove"
            " what was recorded; name that role in --database"
        )
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("PRAGMA secure_delete=ON")  # freed pages hold no words on
    stones = [*_blanked(connection, keys, reason), *_dropped(connection, files, reason)]
    append_lines(connection, tombstone, _STONE, stones, stamp)
    append_only.install(connection)


def _is_owned(connection: sa.Connection) -> bool:
    """Say whether the tables may be altered by whoever is connected; always so on SQLite."""
    if connection.dialect.name == "sqlite":
        return True
    query = (
        "SELECT bool_and(pg_has_role(relowner, 'USAGE')) FROM pg_class"
        " WHERE relname IN ('entry', 'attachment_content') AND pg_table_is_visible(oid)"
    )
    return bool(connection.exec_driver_sql(query).scalar())


def heads_in(file: Path) -> dict[str, Head]:
    """The heads of a copy of a SQLite database, which is only looked at.

    Raises StoreError for what is missing or no fleet's database.
    """
    url = URL.create("sqlite", database=str(file))
    require_current(url.render_as_string())
    engine = look_only_engine(url)
    try:
        with in_words(engine), engine.connect() as copy:
            return read_heads(copy)
    finally:
        engine.dispose()


def _unlock(connection: sa.Connection, table: sa.Table, event: str) -> None:
    """Take the trigger off that refuses an UPDATE or a DELETE of a table."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"DROP TRIGGER {table.name}_no_{event}")
    else:
        connection.exec_driver_sql(f"DROP TRIGGER {table.name}_no_change ON {table.name}")


def _blanked(connection: sa.Connection, keys: Sequence[str], reason: str) -> list[_Stone]:
    if not keys:
        return []
    _unlock(connection, entry, "update")
    lines = sa.select(unit.c.property_number, entry.c.seq, entry.c.key, entry.c.hash).join(
        unit, unit.c.id == entry.c.unit_id
    )
    blank = dict.fromkeys(("initials", "note", "reading", "why", "by"), "")
    gone: list[_Gone] = []
    for chunk in chunks(keys):
        of_chunk = entry.c.key.in_(chunk)
        for number, seq, key, digest in connection.execute(lines.where(of_chunk)):
            gone.append((entry_chain(number), seq, key, bytes(digest).hex()))
        connection.execute(sa.update(entry).where(of_chunk).values(**blank, source=REMOVED))
    return _stones(connection, gone, reason)


def _dropped(connection: sa.Connection, files: Sequence[str], reason: str) -> list[_Stone]:
    if not files:
        return []
    _unlock(connection, attachment_content, "delete")
    line, content = attachment.c, attachment_content.c
    gone: list[_Gone] = []
    for chunk in chunks(files):
        query = sa.select(line.seq, line.sha256, line.hash).where(line.sha256.in_(chunk))
        for seq, sha256, digest in connection.execute(query):
            gone.append((attachment.name, seq, sha256, bytes(digest).hex()))
        connection.execute(sa.delete(attachment_content).where(content.sha256.in_(chunk)))
    return _stones(connection, gone, reason)


def _stones(connection: sa.Connection, gone: Iterable[_Gone], reason: str) -> list[_Stone]:
    """A tombstone for each line, with the hash of the text that now stands there."""
    stones: list[_Stone] = []
    for chain, lines in groupby(sorted(gone), key=itemgetter(0)):
        of_seq = {seq: (key, digest) for _, seq, key, digest in lines}
        stones += (
            (chain, line.seq, *of_seq[line.seq], left_hash(line.content), reason)
            for line in raw_lines(connection, chain)
            if line.seq in of_seq
        )
    return stones
