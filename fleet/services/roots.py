"""What is the one hash over the whole record, and how is one written that a person can compare?"""

from __future__ import annotations

from fleet.domain.chain import root_of
from fleet.services.ports import Record

__all__ = ["LOST", "present_root"]

LOST = "does not hold"
"""By these words a flaw of a root is told from one of the seal's own line."""


def present_root(record: Record) -> str:
    """The root over the heads of all chains as they are now, 64 hexadecimal digits."""
    return root_of(record.heads())
