"""How is written what took long to work out, on a record that others write to meanwhile?

It is looked at again on the record as it is, in a unit of work that reads, and written in one that
finds the same record: nobody waits for the looking.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeVar

from fleet.domain.chain import root_of
from fleet.services.ports import Record, Store

__all__ = ["written_steadily"]

_Seen = TypeVar("_Seen")
_Kept = TypeVar("_Kept")
_TRIES: Final = 3
"""After so many looks that others outran, the next one is had under the lock."""


def written_steadily(
    store: Store, look: Callable[[Record], _Seen], write: Callable[[Record, _Seen], _Kept]
) -> _Kept:
    """Write what was seen on a record, on the same record, and commit it.

    look: raises where what was worked out does not stand any more; nothing is written then.
    """
    for _ in range(_TRIES):
        with store.begin() as record:
            root = root_of(record.heads())
            seen = look(record)
        with store.begin(write=True) as record:
            if root_of(record.heads()) == root:
                return _committed(record, seen, write)
    with store.begin(write=True) as record:
        return _committed(record, look(record), write)


def _committed(record: Record, seen: _Seen, write: Callable[[Record, _Seen], _Kept]) -> _Kept:
    kept = write(record, seen)
    record.commit()
    return kept
