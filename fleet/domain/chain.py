"""How is a change made behind the program found out? Lines in chains, their heads, one root.

A *chain* is a sequence of lines, each hashed with the hash before it: `entry/PROPERTY_NUMBER` a
unit's entries, `register/TABLE` the changes of one class of register record, and `rule_book`,
`holiday_year`, `attachment`, `tombstone`, `seal`. Its *head* is the number and the hash of its last
line, kept apart from the lines. The *root* is one hash over all heads; a *seal* keeps a root that
was given out, with the length each chain had then.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["SEALS", "Flaw", "Head", "Line", "Seal", "Tombstone", "root_of"]

SEALS = "seal"
"""The chain of seals, the only one that no root covers."""


@dataclass(frozen=True, slots=True)
class Head:
    """The end of a chain: the number of its last line, from 1, and that line's hash, 32 bytes."""

    seq: int
    hash: bytes


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a chain: `content` is the canonical JSON that was hashed."""

    chain: str
    seq: int
    hash: bytes
    content: str


@dataclass(frozen=True, slots=True)
class Seal:
    """A root that was given out."""

    sealed_at: dt.datetime
    root: str
    """64 hexadecimal digits."""
    lengths: Mapping[str, int]
    """How many lines each chain had."""


@dataclass(frozen=True, slots=True)
class Tombstone:
    """What is left of a line whose content was removed after its retention."""

    chain: str
    seq: int
    key: str
    hash: bytes
    left_hash: bytes
    """The SHA-256 of the text that stays of the line, 32 bytes."""
    reason: str


@dataclass(frozen=True, slots=True)
class Flaw:
    """One place where a chain is not as it was written."""

    chain: str
    seq: int | None
    """The number of the line; None where the chain as a whole is meant."""
    key: str
    """The entry's key, or what else names the line; '' where nothing does."""
    problem: str
    """A sentence."""
    is_of_root: bool = field(default=False, compare=False)
    """It is a root that does not hold, not the line of its seal that is broken."""


def root_of(heads: Mapping[str, Head]) -> str:
    """Hash all heads but that of the seals into one root, 64 hexadecimal digits.

    It is the SHA-256 of one line a chain, sorted by the chain's name in UTF-8:
    name, TAB, number, TAB, hash in hexadecimal, newline.
    """
    digest = hashlib.sha256()
    for chain in sorted(heads.keys() - {SEALS}, key=str.encode):
        head = heads[chain]
        digest.update(f"{chain}\t{head.seq}\t{head.hash.hex()}\n".encode())
    return digest.hexdigest()
