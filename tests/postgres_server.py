"""Where does a private PostgreSQL server come from? From the machine's own programs."""

from __future__ import annotations

import itertools
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["MISSING", "new_database", "programs", "running", "server_user"]

MISSING = "PostgreSQL is not installed: no initdb in /usr/lib/postgresql/*/bin or on PATH"

_SERIAL = itertools.count(1)


@contextmanager
def running(folder_of_programs: Path) -> Iterator[str]:
    """Start a server on a socket only, and stop it at the end; answers the socket's folder."""
    user = server_user()
    folder = Path(tempfile.mkdtemp(prefix="pg-"))
    if user is not None:
        shutil.chown(folder, user)
    server = [str(folder_of_programs / "pg_ctl"), "--pgdata", str(folder / "data"), "--silent"]
    settings = f"-k {folder} -c listen_addresses= -c fsync=off"
    try:
        _run(
            [
                *(str(folder_of_programs / "initdb"), "--pgdata", str(folder / "data")),
                *("--auth=trust", "--username=owner", "--encoding=UTF8", "--no-sync"),
            ],
            user,
        )
        log = str(folder / "log")
        _run([*server, "--log", log, "--options", settings, "--wait", "start"], user)
        yield str(folder)
        _run([*server, "--mode=immediate", "stop"], user)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def new_database(address: str, *, template: str = "template1", options: str = "") -> str:
    """Make a database of its own, as a copy of another; answers its address."""
    import psycopg

    name = f"fleet{next(_SERIAL)}"
    statement = f"CREATE DATABASE {name} TEMPLATE {template} {options}"
    with psycopg.connect(host=address, user="owner", dbname="postgres", autocommit=True) as server:
        server.execute(statement.encode())
    return f"postgresql://owner@/{name}?host={address}"


def programs() -> Path | None:
    """The folder of the server's programs, the newest version first."""
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=_version, reverse=True)
    for folder in folders:
        if (folder / "initdb").exists():
            return folder
    found = shutil.which("initdb")
    return None if found is None else Path(found).resolve().parent


def server_user() -> str | None:
    """Root may not run the server: another user does. None: the one who asks."""
    if os.geteuid() != 0:
        return None
    known = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in known else "nobody"


def _version(folder: Path) -> float:
    return float(folder.parent.name)


def _run(command: list[str], user: str | None) -> None:
    if user is not None:
        command = ["runuser", "--user", user, "--", *command]
    done = subprocess.run(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, cwd="/"
    )
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(command)}: {done.stderr}")
