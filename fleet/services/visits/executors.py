"""What plans several states side by side? Processes of this machine, or a cluster.

Both are what `concurrent.futures` calls an executor, so that the planner knows neither.
"""

from __future__ import annotations

import multiprocessing
import re
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from importlib.util import find_spec

from fleet.errors import BadInput, Fault

__all__ = ["opened"]

_MOST = 1_000
_CONNECT_SECONDS = 5


@contextmanager
def opened(words: str) -> Iterator[Executor | None]:
    """The executor that words name: 'processes:4', 'tcp://HOST:PORT' of a Dask scheduler, '' none.

    Raises BadInput for other words, and where the cluster is not there or its library missing.
    """
    if not words:
        yield None
    elif found := re.fullmatch(r"processes:([1-9][0-9]{0,3})", words):
        count = min(int(found[1]), _MOST)
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(count, mp_context=context) as pool:
            yield pool
    elif re.fullmatch(r"(tcp|tls|ucx)://\S+", words):
        with _cluster(words) as cluster:
            yield cluster
    else:
        mend = "write processes:4, or the address of a Dask scheduler: tcp://HOST:8786"
        raise _refused(f"'{words}' names no executor", mend)


@contextmanager
def _cluster(address: str) -> Iterator[Executor]:
    if find_spec("distributed") is None:
        raise _refused("distributed is not installed", "pip install 'dask[distributed]'")
    from distributed import Client

    try:
        client = Client(  # type: ignore[no-untyped-call]
            address, timeout=_CONNECT_SECONDS, set_as_default=False
        )
    except (OSError, TimeoutError, ValueError) as wrong:
        mend = "start it: dask scheduler, and on each machine dask worker ADDRESS"
        raise _refused(f"no Dask scheduler answers at {address} ({wrong})", mend) from wrong
    with client, client.get_executor(pure=False) as pool:  # type: ignore[no-untyped-call]
        yield pool


def _refused(problem: str, mend: str) -> BadInput:
    return BadInput([Fault("--executor", None, None, problem, mend)])
