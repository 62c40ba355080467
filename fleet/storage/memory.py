"""What need not be read anew, since nothing of it was written meanwhile?

A process keeps the register it read last, with the heads of the chains it was read under. Whoever
asks looks at the heads as its own transaction sees them; where they are the same, so is the
register. A transaction that has changed the register reads its own tables and leaves nothing here.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any, TypeVar

import sqlalchemy as sa

from fleet.storage.head_rows import register_chain
from fleet.storage.register_rows import TABLES
from fleet.storage.schema import chain_head

__all__ = ["Memory", "register_key"]

Value = TypeVar("Value")
Key = tuple[tuple[str, int, bytes], ...]

_CHAINS = (*map(register_chain, TABLES), "rule_book", "holiday_year")
_HEADS = (
    sa.select(chain_head.c.chain, chain_head.c.seq, chain_head.c.hash)
    .where(chain_head.c.chain.in_(_CHAINS))
    .order_by(chain_head.c.chain)
)


def register_key(connection: sa.Connection) -> Key:
    """The heads of all that the register is made of, as this transaction sees them."""
    return tuple((chain, seq, bytes(h)) for chain, seq, h in connection.execute(_HEADS))


class Memory:
    """What one process keeps in mind; many threads ask it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._key: Key | None = None
        self._values: dict[str, Any] = {}

    def recalled(self, key: Key, name: str, read: Callable[[], Value]) -> Value:
        """The value of this name under these heads, read where it is not known yet.

        What is answered is shared by all who ask: nobody may change it.
        """
        with self._lock:
            if key == self._key and name in self._values:
                value: Value = self._values[name]
                return value
        value = read()
        with self._lock:
            if key != self._key:
                self._key, self._values = key, {}
            self._values[name] = value
        return value
