"""Do the roots that were given out still hold? Each is worked out again as the chains are walked.

A root covers the chains in the order of their names in UTF-8, and so they are passed here: all
roots grow side by side, and no more is kept than the lengths that the seals hold anyway.
"""

from __future__ import annotations

import hashlib
import json
from array import array
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from fleet.domain.chain import SEALS, Flaw
from fleet.storage.line_rows import raw_lines

__all__ = ["SealedRoots"]


@dataclass(slots=True)
class _SealedRoot:
    seq: int
    root: str
    sealed_at: str
    lengths: array[int]
    """By the place of the chain."""
    digest: Any = field(default_factory=hashlib.sha256)
    missing: tuple[str, int] | None = None
    """The first chain that no longer has the line this root covers last."""


class SealedRoots:
    """The roots that were given out, while the chains they cover are walked."""

    def __init__(self, connection: sa.Connection) -> None:
        self._places: dict[str, int] = {}
        self._roots = [
            self._read(line.seq, json.loads(line.content))
            for line in raw_lines(connection, SEALS)
            if line.content is not None
        ]

    def _read(self, seq: int, content: Mapping[str, Any]) -> _SealedRoot:
        lengths = _lengths(content["lengths"])
        for chain in lengths:
            self._places.setdefault(chain, len(self._places))
        by_place = array("q", bytes(8 * len(self._places)))
        for chain, length in lengths.items():
            by_place[self._places[chain]] = length
        return _SealedRoot(seq, content["root"], content["stored_at"], by_place)

    def chains(self) -> Collection[str]:
        """Every chain that a root covers."""
        return self._places.keys()

    def wanted(self, chain: str) -> set[int]:
        """The numbers of those lines of a chain whose hashes went into a root."""
        return {length for _, length in self._covering(chain)}

    def pass_on(self, chain: str, hashes: Mapping[int, bytes]) -> None:
        """Take a chain into the roots; hashes: those of the lines that are wanted and there."""
        for root, length in self._covering(chain):
            if length in hashes:
                root.digest.update(f"{chain}\t{length}\t{hashes[length].hex()}\n".encode())
            elif root.missing is None:
                root.missing = (chain, length)

    def flaws(self, distrusted: Flaw | None) -> Iterator[Flaw]:
        """Each root that does not hold; not that of a seal that is itself found to be changed."""
        for root in self._roots:
            if distrusted is not None and distrusted.seq == root.seq:
                continue
            if root.missing is not None:
                chain, length = root.missing
                problem = f"line {length} of {chain}, which it covers, is not there any more"
            elif root.digest.hexdigest() != root.root:
                problem = "what it covers was written anew since"
            else:
                continue
            given = f"the root given out at {root.sealed_at} does not hold: {problem}"
            yield Flaw(SEALS, root.seq, root.root, given, is_of_root=True)

    def _covering(self, chain: str) -> Iterator[tuple[_SealedRoot, int]]:
        place = self._places.get(chain)
        if place is None:
            return
        for root in self._roots:
            length = root.lengths[place] if place < len(root.lengths) else 0
            if length:
                yield root, length


def _lengths(text: str) -> dict[str, int]:
    """Read a seal's lengths; of one that was changed, whatever is left of them."""
    try:
        lengths = json.loads(text)
    except ValueError:
        return {}
    found = lengths.items() if isinstance(lengths, dict) else ()
    return {chain: length for chain, length in found if isinstance(length, int)}
