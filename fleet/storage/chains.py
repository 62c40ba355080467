"""How are the lines of a chain written? Each with its place, its stamp and the hash before it."""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa

from fleet.services.ports import Stamp
from fleet.storage.bulk import Cell, insert_rows
from fleet.storage.canonical import START, canonical_json, instant_text, link

__all__ = ["STAMPED", "Tail", "append_lines"]

STAMPED = ("stored_at", "by", "source", "prev_hash", "hash")
"""The columns that every line of a chain ends with."""

Tail = tuple[int, bytes]
"""The number and the hash of a chain's last line; (0, START) before the first."""


def append_lines(
    connection: sa.Connection,
    table: sa.Table,
    columns: Sequence[str],
    lines: Sequence[tuple[str | int | bool | None, ...]],
    stamp: Stamp,
    chain: str | None = None,
) -> None:
    """Append lines to one chain of a table (to that named, where a table holds several).

    columns name the cells of each line; what is hashed is these, chain, seq and the stamp.
    """
    same: dict[str, str] = {} if chain is None else {"chain": chain}
    stored_at = instant_text(stamp.at)
    stamped = {**same, "stored_at": stored_at, "by": stamp.by, "source": stamp.source}
    seq, previous = _tail(connection, table, chain)
    rows: list[tuple[Cell, ...]] = []
    for line in lines:
        seq += 1
        content = {**dict(zip(columns, line, strict=True)), "seq": seq, **stamped}
        digest = link(previous, canonical_json(content))
        end = (stored_at, stamp.by, stamp.source, previous, digest)
        rows.append((*same.values(), seq, *line, *end))
        previous = digest
    insert_rows(connection, table, (*same, "seq", *columns, *STAMPED), rows)


def _tail(connection: sa.Connection, table: sa.Table, chain: str | None) -> Tail:
    query = sa.select(table.c.seq, table.c.hash).order_by(table.c.seq.desc()).limit(1)
    if chain is not None:
        query = query.where(table.c.chain == chain)
    row = connection.execute(query).one_or_none()
    return (0, START) if row is None else (row.seq, bytes(row.hash))
