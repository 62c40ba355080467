"""Where do planted pages come from? A folder, served on loopback by a thread."""

from __future__ import annotations

import functools
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from tests.web.chromium import HOST

__all__ = ["PLANTED", "served"]

PLANTED = Path(__file__).parent / "planted"


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - as the base has it
        """Say nothing: the output of a test is its failures."""


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """Serve the files of a folder; answers the address of the folder, without a slash."""
    handler = functools.partial(_Quiet, directory=str(folder))
    with ThreadingHTTPServer((HOST, 0), handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        try:
            yield f"http://{HOST}:{server.server_port}"
        finally:
            server.shutdown()
            thread.join()
