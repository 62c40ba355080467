"""A private Postfix on a loopback port that keeps all mail in one maildir (as root, Linux).

Debian's packages of Postfix and OpenSMTPD exclude each other: install postfix for the study.
"""

from __future__ import annotations

import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from pwd import getpwnam

__all__ = ["Postfix", "postfix"]

_MASTER = """\
127.0.0.1:{port} inet n - n - - smtpd
pickup unix n - n 60 1 pickup
cleanup unix n - n - 0 cleanup
qmgr unix n - n 300 1 qmgr
tlsmgr unix - - n 1000? 1 tlsmgr
rewrite unix - - n - - trivial-rewrite
bounce unix - - n - 0 bounce
defer unix - - n - 0 bounce
trace unix - - n - 0 bounce
verify unix - - n - 1 verify
flush unix n - n 1000? 0 flush
proxymap unix - - n - - proxymap
error unix - - n - - error
retry unix - - n - - error
discard unix - - n - - discard
virtual unix - n n - - virtual
anvil unix - - n - 1 anvil
scache unix - - n - 1 scache
postlog unix-dgram n - n - 1 postlogd
"""
_MAIN = """\
compatibility_level = 3.6
queue_directory = {folder}/queue
data_directory = {folder}/data
mail_owner = postfix
setgid_group = postdrop
inet_interfaces = 127.0.0.1
inet_protocols = ipv4
myhostname = mail.state.example
mydestination =
mynetworks = 127.0.0.0/8
virtual_mailbox_domains = static:all
virtual_mailbox_base = {folder}/mail
virtual_mailbox_maps = static:all/
virtual_uid_maps = static:{uid}
virtual_gid_maps = static:{gid}
virtual_minimum_uid = 1
default_transport = error:nothing leaves this machine
maillog_file = {folder}/log
maillog_file_prefixes = {folder}
smtpd_client_connection_rate_limit = 0
in_flow_delay = 0
"""


@dataclass(frozen=True)
class Postfix:
    """A running server; `maildir` has each message in a file."""

    port: int
    maildir: Path

    def wait_for(self, count: int, seconds: float = 60.0) -> list[bytes]:
        """The messages, once there are so many."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            found = list((self.maildir / "new").glob("*"))
            if len(found) >= count:
                return [path.read_bytes() for path in found]
            time.sleep(0.1)
        raise AssertionError(f"{count} messages expected, {len(found)} arrived")


@contextmanager
def postfix() -> Iterator[Postfix]:
    """Start a server with queue, configuration and mailbox of its own, and stop it."""
    if shutil.which("postfix") is None:
        raise SystemExit("there is no Postfix on this machine: apt-get install postfix")
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port = int(found.getsockname()[1])
    folder = Path(tempfile.mkdtemp(prefix="postfix-"))
    folder.chmod(0o755)
    owner, nobody = getpwnam("postfix"), getpwnam("nobody")
    for name in ("queue", "data", "mail", "etc"):
        (folder / name).mkdir()
    shutil.chown(folder / "data", owner.pw_uid)
    maildir = folder / "mail" / "all"
    shutil.chown(folder / "mail", nobody.pw_uid, nobody.pw_gid)
    main = _MAIN.format(folder=folder, uid=nobody.pw_uid, gid=nobody.pw_gid)
    (folder / "etc" / "main.cf").write_text(main)
    (folder / "etc" / "master.cf").write_text(_MASTER.format(port=port))
    command = ["postfix", "-c", str(folder / "etc")]
    subprocess.run([*command, "start"], check=True, capture_output=True)
    try:
        _wait(port)
        yield Postfix(port, maildir)
    finally:
        subprocess.run([*command, "stop"], check=False, capture_output=True)
        shutil.rmtree(folder, ignore_errors=True)


def _wait(port: int) -> None:
    for _ in range(100):
        try:
            with socket.create_connection(("127.0.0.1", port), 1) as made:
                made.recv(100)
                return
        except OSError:
            time.sleep(0.1)
    raise AssertionError("Postfix does not answer")
