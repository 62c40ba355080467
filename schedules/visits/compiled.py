"""How is slow arithmetic made fast? By numba where it is installed; else the same, slowly."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Final, ParamSpec, TypeVar

__all__ = ["IS_COMPILED", "compiled"]

P = ParamSpec("P")
R = TypeVar("R")

IS_COMPILED: Final = find_spec("numba") is not None


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function of numbers and arrays at its first call, kept for the next start."""
    if not IS_COMPILED:
        return function
    _choose_folder()
    import numba

    made: Callable[P, R] = numba.njit(cache=True, nogil=True)(function)
    return made


@cache
def _choose_folder() -> None:
    """Keep what is compiled beside the source, in a folder named by all of it.

    numba asks only whether the file of the function it compiles has changed, not the files of the
    functions that one calls (numba's documentation, "Notes on caching"). Where the folder cannot be
    written, it is left to numba to find another.
    """
    import numba

    here = Path(__file__).parent
    digest = hashlib.sha256()
    for path in sorted(here.rglob("*.py")):
        digest.update(path.read_bytes())
    if os.access(here, os.W_OK):
        numba.config.CACHE_DIR = str(  # type: ignore[attr-defined]
            here / "__pycache__" / digest.hexdigest()[:12]
        )
