"""Where does each chain end? Kept apart from the lines, so that a missing tail is seen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import sqlalchemy as sa

from fleet.domain.chain import Head
from fleet.storage.bulk import chunks, driver_columns
from fleet.storage.schema import chain_head

__all__ = ["Tail", "entry_chain", "read_heads", "register_chain", "set_heads", "tails_of"]

Tail = tuple[int, bytes]
"""The number and the hash of a chain's last line."""

_UPSERT = sa.text(
    "INSERT INTO chain_head (chain, seq, hash) VALUES (:chain, :seq, :hash)"
    " ON CONFLICT (chain) DO UPDATE SET seq = excluded.seq, hash = excluded.hash"
)


def entry_chain(property_number: str) -> str:
    """The name of a unit's chain of entries."""
    return f"entry/{property_number}"


def register_chain(table: str) -> str:
    """The name of the chain of one table of the register."""
    return f"register/{table}"


def read_heads(connection: sa.Connection) -> dict[str, Head]:
    """The head of every chain that has a line, by the chain's name.

    Read as the driver has them: a forger's hash may be of any kind, and then it fits no line.
    """
    query = sa.select(chain_head.c.chain, chain_head.c.seq, chain_head.c.hash)
    columns = driver_columns(connection, query, 3)
    return {
        chain: Head(seq, digest if isinstance(digest, bytes) else b"")
        for chain, seq, digest in zip(*columns, strict=True)
    }


def tails_of(connection: sa.Connection, chains: Sequence[str]) -> dict[str, Tail]:
    """The ends of some chains; those without a line are left out."""
    query = sa.select(chain_head.c.chain, chain_head.c.seq, chain_head.c.hash)
    found: dict[str, Tail] = {}
    for chunk in chunks(chains):
        for chain, seq, digest in connection.execute(query.where(chain_head.c.chain.in_(chunk))):
            found[chain] = (seq, bytes(digest))
    return found


def set_heads(connection: sa.Connection, tails: Mapping[str, Tail]) -> None:
    """Move heads on to these ends."""
    rows = [{"chain": chain, "seq": seq, "hash": h} for chain, (seq, h) in tails.items()]
    if rows:
        connection.execute(_UPSERT, rows)
