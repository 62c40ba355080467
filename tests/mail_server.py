"""A real mail server on the machine: OpenSMTPD on a loopback port, which keeps what it is sent."""

from __future__ import annotations

import contextlib
import fcntl
import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

__all__ = ["MailServer", "as_kept", "free_port", "mail_server", "started", "without_trace"]

_SMTPD = Path("/usr/sbin/smtpd")
_USER = "nobody"


def as_kept(content: bytes) -> bytes:
    """A maildir keeps lines with LF; the server puts its trace lines in front (RFC 5321 4.4)."""
    return content.replace(b"\r\n", b"\n")


def without_trace(kept: bytes) -> bytes:
    """A kept message without the lines the server put in front."""
    return kept[kept.index(b"From: Dueward") :]


def free_port() -> int:
    """A port of loopback that nobody listens on now."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@dataclass(frozen=True)
class MailServer:
    """A running OpenSMTPD that puts all mail into one maildir."""

    port: int
    maildir: Path

    def wait_for(self, count: int, seconds: float = 20.0) -> list[bytes]:
        """The messages, once there are so many."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            found = list((self.maildir / "new").glob("*"))
            if len(found) >= count:
                return [path.read_bytes() for path in found]
            time.sleep(0.05)
        raise AssertionError(f"{count} messages expected, {len(found)} arrived")


@pytest.fixture
def mail_server() -> Iterator[MailServer]:
    """OpenSMTPD on a loopback port, started by hand in a temporary folder; needs root."""
    if not _SMTPD.exists() or os.geteuid() != 0:
        reason = f"no mail server to test with: {_SMTPD} is missing, or this is not run as root"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with started() as server:
        yield server


@contextlib.contextmanager
def started() -> Iterator[MailServer]:
    """Start a server in a temporary folder, and stop it; one at a time on a machine, since all
    OpenSMTPDs share a control socket.
    """
    turn = Path(tempfile.gettempdir()) / "dueward-smtpd.turn"
    with turn.open("w") as lock, tempfile.TemporaryDirectory(prefix="dueward-smtpd-") as name:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield from _running(Path(name))


def _running(folder: Path) -> Iterator[MailServer]:
    folder.chmod(0o711)  # the user that keeps the mail must reach it
    maildir, port = folder / "mail", free_port()
    maildir.mkdir()
    shutil.chown(maildir, _USER)
    (folder / "smtpd.conf").write_text(
        f"listen on 127.0.0.1 port {port}\n"
        f'table everyone {{ "@" = "{_USER}" }}\n'
        f'action "keep" maildir "{maildir}" user {_USER} virtual <everyone>\n'
        'match from any for any action "keep"\n'
    )
    with (folder / "log").open("wb") as log:
        process = subprocess.Popen(
            [str(_SMTPD), "-d", "-f", str(folder / "smtpd.conf")], stdout=log, stderr=log
        )
    try:
        _wait_for_port(port, process, folder / "log")
        yield MailServer(port, maildir)
    finally:
        process.terminate()
        process.wait(10)


def _wait_for_port(port: int, process: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(200):
        if process.poll() is not None:
            break
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
            return
        time.sleep(0.05)
    raise AssertionError(f"the mail server did not start: {log.read_text()}")
