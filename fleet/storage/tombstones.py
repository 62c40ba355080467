"""What does a tombstone excuse, and does each stand for a line that is there?

A tombstone excuses one thing only: that the words of an entry are gone, or the content of an
attached file. What stays of the line must be what the tombstone knows it by.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Any, NamedTuple

import sqlalchemy as sa

from fleet.domain.chain import Flaw
from fleet.domain.records import REMOVED
from fleet.storage import schema
from fleet.storage.line_rows import RawLine

__all__ = ["Stone", "Stones", "Tombstones", "left_hash"]

_ENTRIES, _FILES = "entry/", "attachment"


def left_hash(content: str | None) -> str:
    """Hash the text that stays of a line, 64 hexadecimal digits (SHA-256)."""
    return hashlib.sha256((content or "").encode()).hexdigest()


class Stone(NamedTuple):
    """A tombstone, as it stands."""

    seq: int
    """Its own number."""
    key: str
    of_hash: str
    left_hash: str

    def is_of(self, key: str, digest: bytes) -> bool:
        """Say whether it was set for what bears this key and this hash."""
        return (self.key, self.of_hash) == (key, digest.hex())

    def excuses(self, line: RawLine) -> bool:
        """Say whether a line of entries is what its disposal left of it, and no more."""
        is_left = self.left_hash == left_hash(line.content) and _is_blank(line.content or "")
        return is_left and self.is_of(line.key, line.hash)


Stones = Mapping[int, Stone]
"""By the number of the line that each stands for."""


def _is_blank(content: str) -> bool:
    """Say whether no more is left of an entry than its disposal leaves."""
    cells = json.loads(content or "{}")
    words = [cells.get(name) for name in ("by", "initials", "note", "reading", "why")]
    return cells.get("source") == REMOVED and not any(words)


class Tombstones:
    """All tombstones: asked chain by chain, in the order of their names in UTF-8."""

    def __init__(self, connection: sa.Connection) -> None:
        stone = schema.tombstone.c
        chain = stone.of_chain
        if connection.dialect.name != "sqlite":
            chain = sa.collate(chain, "C")  # type: ignore[assignment]
        query = sa.select(
            *(stone.of_chain, stone.of_seq),
            *(stone.seq, stone.key, stone.of_hash, stone.left_hash),
        ).order_by(chain, stone.of_seq, stone.seq)
        options = {"yield_per": 1_000}
        self._rows = iter(connection.execute(query, execution_options=options))
        self._next: Any = next(self._rows, None)
        self._flaws: list[tuple[int, Flaw]] = []
        self.files: Stones = {}
        """Those of attached files, by the number of the file's line, once they were passed."""

    def of(self, chain: str) -> Stones:
        """The tombstones that excuse lines of a chain: none but of a unit's entries."""
        found: dict[int, Stone] = {}
        while self._next is not None and self._next[0].encode() <= chain.encode():
            name, seq, *cells = self._next
            self._take(name == chain, name, seq, Stone(*cells), found)
            self._next = next(self._rows, None)
        if chain == _FILES:
            self.files = found
        return found if chain.startswith(_ENTRIES) else {}

    def _take(
        self, is_there: bool, chain: str, seq: int, stone: Stone, found: dict[int, Stone]
    ) -> None:
        if chain != _FILES and not chain.startswith(_ENTRIES):
            problem = f"it stands for a line of {chain}, of which none is ever disposed of"
            self._add(stone, problem)
        elif not is_there:
            self._add(stone, _nothing(chain, seq))
        elif seq in found:
            self._add(stone, f"line {seq} of {chain} has another tombstone")
        else:
            found[seq] = stone

    def settle(self, chain: str, stones: Stones, met: Collection[int]) -> None:
        """Say which lines that have a tombstone were met, each as the tombstone knows it."""
        for seq in stones.keys() - set(met):
            self._add(stones[seq], _nothing(chain, seq))

    def _add(self, stone: Stone, problem: str) -> None:
        self._flaws.append((stone.seq, Flaw("tombstone", stone.seq, stone.key, problem)))

    def flaws(self) -> Iterator[Flaw]:
        """What was found, once every chain was passed; also those of chains that there are not."""
        rest: Iterable[Any] = () if self._next is None else (self._next, *self._rows)
        for name, seq, *cells in rest:
            self._take(False, name, seq, Stone(*cells), {})
        yield from (flaw for _, flaw in sorted(self._flaws, key=lambda found: found[0]))


def _nothing(chain: str, seq: int) -> str:
    return f"there is no line {seq} of {chain} with the key and the hash it keeps"
