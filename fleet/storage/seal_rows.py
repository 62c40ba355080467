"""Which roots were given out? Each is kept with the length that every chain had then."""

from __future__ import annotations

import json

import sqlalchemy as sa

from fleet.domain.chain import SEALS, Seal, root_of
from fleet.services.ports import Stamp
from fleet.storage.canonical import canonical_json
from fleet.storage.chains import append_lines
from fleet.storage.head_rows import read_heads
from fleet.storage.schema import seal

__all__ = ["add_seal", "read_seals"]


def read_seals(connection: sa.Connection) -> list[Seal]:
    """Every root that was given out, the oldest first."""
    rows = connection.execute(sa.select(seal).order_by(seal.c.seq))
    return [Seal(row.stored_at, row.root, json.loads(row.lengths)) for row in rows]


def add_seal(connection: sa.Connection, stamp: Stamp) -> Seal:
    """Keep the present root, with the length of every chain it covers."""
    heads = read_heads(connection)
    lengths = {chain: head.seq for chain, head in heads.items() if chain != SEALS}
    root = root_of(heads)
    line = (root, canonical_json(lengths))
    append_lines(connection, seal, ("root", "lengths"), [line], stamp)
    return Seal(stamp.at, root, lengths)
