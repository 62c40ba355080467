"""What is said where a disk does not take what is written to it?"""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fleet.errors import StoreError

__all__ = ["FULL", "disk_told"]

FULL = "the disk is full, and nothing was left behind; free some space, then run the command again"
_MENDS = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EACCES: "it may not be written there; name another place, or get the right to write",
    errno.EPERM: "it may not be written there; name another place, or get the right to write",
    errno.EROFS: "the disk may only be read; name another place",
    errno.ENOENT: "there is no such file or folder; check the path",
}


@contextmanager
def disk_told(place: Path) -> Iterator[None]:
    """Turn what the operating system refuses inside into a StoreError that names the mend."""
    try:
        yield
    except OSError as refused:
        said = refused.strerror or type(refused).__name__
        known = _MENDS.get(refused.errno or 0, f"{said}; check the disk, then run it again")
        raise StoreError(f"{place}: {known}") from refused
