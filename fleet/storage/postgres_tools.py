"""Which of PostgreSQL's own programs write and read a dump, and how are they run?

They are looked for on PATH and where Debian's packages put them. One of the server's own version
is best: an older one refuses, a much newer one may write what the server does not know.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator, Sequence
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import URL

from fleet.errors import StoreError
from fleet.services.disk import FULL

__all__ = ["find_tool", "run_tool", "server_version"]

_DEBIAN = Path("/usr/lib/postgresql")
_SECRETS = ("password", "sslpassword")
_VERSION = re.compile(r"\b(\d+)(?:\.\d+|devel|beta|rc)")


def server_version(connection: sa.Connection) -> int:
    """The server's major version."""
    return int(connection.exec_driver_sql("SHOW server_version_num").scalar_one()) // 10_000


def find_tool(name: str, at_least: int) -> Path:
    """The program of the lowest major version that is not older than the server's.

    Raises StoreError where there is none, and says what to install.
    """
    found = {version: path for path in _candidates(name) if (version := _version(path))}
    fitting = sorted(version for version in found if version >= at_least)
    if fitting:
        return found[fitting[0]]
    there = f" (there is one of version {max(found)})" if found else ""
    raise StoreError(
        f"{name} of PostgreSQL {at_least} or later is needed and not found{there}; install"
        " PostgreSQL's client programs (on Debian and Ubuntu:"
        f" postgresql-client-{at_least}), or put their folder on PATH"
    )


def run_tool(command: Sequence[str | Path], url: URL | None, *, place: str) -> str:
    """Run a program, on a database if one is named, and answer what it prints.

    The password goes in its environment, where no list of processes shows it. Raises StoreError
    with what the program says.
    """
    words, environment = [str(word) for word in command], dict(os.environ) | {"LC_ALL": "C"}
    if url is not None:
        target, secret = _connection_words(url)
        words.append(f"--dbname={target}")
        if secret:
            environment["PGPASSWORD"] = secret
    done = subprocess.run(  # noqa: S603 - a program of PostgreSQL, found by find_tool
        words, env=environment, stdin=subprocess.DEVNULL, capture_output=True, text=True
    )
    if done.returncode != 0:
        name = Path(words[0]).name
        if "No space left on device" in done.stderr:
            raise StoreError(f"{place}: {FULL}")
        raise StoreError(f"{place}: {name} refused: {_said(done.stderr, name)}")
    return done.stdout


def _candidates(name: str) -> Iterator[Path]:
    yield from sorted(_DEBIAN.glob(f"*/bin/{name}"))
    if on_path := shutil.which(name):
        yield Path(on_path)


def _version(path: Path) -> int | None:
    try:
        said = subprocess.run(  # noqa: S603 - asks a program for its version
            [str(path), "--version"], capture_output=True, text=True, timeout=30
        ).stdout
    except OSError:
        return None
    match = _VERSION.search(said)
    return int(match[1]) if match else None


def _connection_words(url: URL) -> tuple[str, str | None]:
    """The connection as libpq's words, and the password apart."""
    from psycopg.conninfo import make_conninfo

    words = {**url.translate_connect_args(username="user", database="dbname"), **url.query}
    secret = words.get("password")
    told = {name: str(value) for name, value in words.items() if name not in _SECRETS}
    return make_conninfo(**told), None if secret is None else str(secret)


def _said(stderr: str, name: str) -> str:
    """The first error that a program tells, without its own name."""
    lines = [line.strip() for line in stderr.splitlines() if line.strip()]
    errors = [line for line in lines if "error:" in line] or lines or ["it said nothing"]
    return errors[0].removeprefix(f"{name}: ").removeprefix("error: ")
