"""How are the pages served, and the timetable run beside them, until somebody says to stop?"""

from __future__ import annotations

import ipaddress
import signal
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from queue import SimpleQueue
from types import FrameType
from typing import TYPE_CHECKING, Final

from fleet.domain.records import Role
from fleet.errors import BadInput, Fault, StoreError

if TYPE_CHECKING:
    from waitress.server import BaseWSGIServer

    from fleet.web.site import WebSite
    from fleet.wiring import Program

__all__ = ["CONNECTIONS", "Door", "is_loopback", "make_server", "make_site", "run"]

CONNECTIONS: Final = 1_000
"""With the server's own limit of 100, keep-alive connections of 100 users fill it and others wait
for 20 seconds (measured; waitress issue 301).
"""
_IDLE_SECONDS: Final = 120
_BACKLOG: Final = 1_024
_TURN_SECONDS: Final = 0.0005
"""So long a thread computes while another waits for its turn. A page asks the database some thirty
times and waits for its turn after each: beside a thread that plans mail or works on a job, at the
interpreter's own 0.005, a mark took 362 ms in place of 13 (measured; 51 with this).
"""
_LAST_SECONDS: Final = 10
"""So long a job under way may take to end; another process does it again then."""


@dataclass(frozen=True, slots=True)
class Door:
    """Where the pages are listened for; proxy: the address of the one that speaks TLS, or ''."""

    host: str
    port: int
    threads: int
    proxy: str = ""


def is_loopback(host: str) -> bool:
    """Say whether only this machine can reach an address or a name."""
    try:
        found = {info[4][0] for info in socket.getaddrinfo(host, None)}
    except OSError:
        mend = "give an address of this machine, as 127.0.0.1"
        raise BadInput([Fault("--host", None, None, f"'{host}' is no address", mend)]) from None
    return all(ipaddress.ip_address(str(one).partition("%")[0]).is_loopback for one in found)


def make_site(program: Program, *, is_behind_tls: bool) -> WebSite:
    """With what one process serves its pages, under the names that its settings give it."""
    from fleet.services.board import Board
    from fleet.services.overview import Overviews
    from fleet.web.hasher import ArgonHasher
    from fleet.web.hosts import names_of
    from fleet.web.site import WebSite

    return WebSite(
        program=program,
        hasher=ArgonHasher(),
        board=Board(program.public_holidays),
        overviews=Overviews(program.public_holidays),
        names=names_of(program.settings.mail.base_url),
        is_behind_tls=is_behind_tls,
        second_factor=frozenset(Role(word) for word in program.settings.second_factor),
    )


def make_server(site: WebSite, door: Door) -> BaseWSGIServer:
    """The server of one process, listening; StoreError where the port is taken.

    Where only this machine reaches it, it answers under this machine's own names too; behind a
    proxy whose name nobody told it answers under any.
    """
    from waitress import create_server

    from fleet.web.app import make_app
    from fleet.web.hosts import loopback_names

    behind: dict[str, object] = {}
    if door.proxy:
        behind = {
            "trusted_proxy": door.proxy,
            "trusted_proxy_count": 1,
            "trusted_proxy_headers": "x-forwarded-for x-forwarded-proto x-forwarded-host",
            "clear_untrusted_proxy_headers": True,
        }
    listening = _listening(door)
    if is_loopback(door.host) and (site.names or not site.is_behind_tls):
        own = loopback_names(door.host, listening.getsockname()[1])
        site = replace(site, names=site.names | own)
    return create_server(
        make_app(site),
        sockets=[listening],
        threads=door.threads,
        connection_limit=CONNECTIONS,
        channel_timeout=_IDLE_SECONDS,
        asyncore_use_poll=True,
        ident=None,
        **behind,
    )


def _listening(door: Door) -> socket.socket:
    """A socket at the door; the server's own would not be closed where the port is taken."""
    family = socket.getaddrinfo(door.host, door.port, type=socket.SOCK_STREAM)[0][0]
    try:
        return socket.create_server((door.host, door.port), family=family, backlog=_BACKLOG)
    except OSError as error:
        mend = "stop what listens there, or give another --port"
        raise StoreError(f"{door.host} port {door.port}: {error.strerror}; {mend}") from None


def run(
    program: Program,
    door: Door,
    say: Callable[[str], None],
    *,
    pages_only: bool,
    plan_only: bool,
) -> int:
    """Serve until SIGTERM or Ctrl-C; 1 where the timetable ended by itself."""
    from fleet.web.long_work import runner

    sys.setswitchinterval(_TURN_SECONDS)
    program = replace(program, keeps_connections=True)
    program.store  # noqa: B018 - refuses a database that cannot be used before anything listens
    server = make_server(make_site(program, is_behind_tls=bool(door.proxy)), door)
    stopped = threading.Event()
    pages = threading.Thread(target=server.run, name="pages", daemon=True)
    work = threading.Thread(target=runner(program).loop, args=(stopped,), daemon=True)
    timetable = None if pages_only else _Timetable(program, say, stopped, plan_only=plan_only)
    with _signals_told(stopped):
        pages.start()
        work.start()
        say(f"the pages are at http://{door.host}:{server.effective_port}/; Ctrl-C stops them")
        if timetable is not None:
            timetable.start()
        stopped.wait()
        if timetable is not None:
            timetable.end()
        server.close()
        work.join(_LAST_SECONDS)
    say("the pages have stopped")
    return 1 if timetable is not None and timetable.has_failed else 0


@contextmanager
def _signals_told(stopped: threading.Event) -> Iterator[None]:
    """While the block lasts, SIGTERM and Ctrl-C set the event and do no more."""

    def stop(number: int, frame: FrameType | None) -> None:
        stopped.set()

    before = {number: signal.signal(number, stop) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class _Timetable:
    """The timetable in a thread of its own."""

    def __init__(
        self,
        program: Program,
        say: Callable[[str], None],
        stopped: threading.Event,
        *,
        plan_only: bool,
    ) -> None:
        from notifications.smtp import ready_server

        mail = program.settings.mail
        server = None if plan_only or not mail.smtp else ready_server(mail)
        if server is None and not plan_only:
            say("no mail is sent: DUEWARD_SMTP names no server; mail is planned into the outbox")
        self._program, self._say, self._stopped = program, say, stopped
        self._worker = program.worker(server, plans_only=plan_only)
        self._told: SimpleQueue[None] = SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="timetable", daemon=True)
        self.has_failed = False

    def start(self) -> None:
        self._thread.start()

    def end(self) -> None:
        """Let the message under way be finished, then let another process lead."""
        self._worker.stop()
        self._told.put(None)
        if self._thread.ident is not None:
            self._thread.join()
        self._worker.leadership.give_up()

    def _run(self) -> None:
        from notifications.timetable import run_until_told

        try:
            run_until_told(self._minute, self._told, self._program.clock())
        except Exception as error:
            self.has_failed = True
            self._say(f"the timetable has ended: {error}")
            self._stopped.set()

    def _minute(self) -> None:
        for line in self._worker.tick().says:
            self._say(line)
