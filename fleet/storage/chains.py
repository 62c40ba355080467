"""How are the lines of a chain written? Each with its place, its stamp and the hash before it."""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa

from fleet.services.ports import Stamp
from fleet.storage.bulk import Cell, insert_rows
from fleet.storage.canonical import START, canonical_json, instant_text, link
from fleet.storage.head_rows import register_chain, set_heads, tails_of

__all__ = ["STAMPED", "append_lines"]

STAMPED = ("stored_at", "by", "source", "prev_hash", "hash")
"""The columns that every line of a chain ends with."""


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
    if not lines:
        return
    same: dict[str, str] = {} if chain is None else {"chain": chain}
    stored_at = instant_text(stamp.at)
    stamped = {**same, "stored_at": stored_at, "by": stamp.by, "source": stamp.source}
    name = table.name if chain is None else register_chain(chain)
    seq, previous = tails_of(connection, [name]).get(name, (0, START))
    rows: list[tuple[Cell, ...]] = []
    for line in lines:
        seq += 1
        content = {**dict(zip(columns, line, strict=True)), "seq": seq, **stamped}
        digest = link(previous, canonical_json(content))
        end = (stored_at, stamp.by, stamp.source, previous, digest)
        rows.append((*same.values(), seq, *line, *end))
        previous = digest
    insert_rows(connection, table, (*same, "seq", *columns, *STAMPED), rows)
    set_heads(connection, {name: (seq, previous)})
