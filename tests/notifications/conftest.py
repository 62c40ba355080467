"""A mail server in this process that answers as a script says."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session

from tests.mail_server import free_port
from tests.tls_certificates import Certificates, make_certificates


@dataclass
class Script:
    """A handler that answers as told: per command a list of replies, then yes for ever.

    The reply 'drop' cuts the connection without a word.
    """

    mail: list[str] = field(default_factory=list)
    rcpt: list[str] = field(default_factory=list)
    data: list[str] = field(default_factory=list)
    taken: list[Envelope] = field(default_factory=list)
    connections: int = 0

    async def handle_EHLO(  # noqa: N802 - the library's name
        self,
        server: SMTP,
        session: Session,
        envelope: Envelope,
        hostname: str,
        responses: list[str],
    ) -> list[str]:
        if session.ssl is None or not session.host_name:
            self.connections += 1
        session.host_name = hostname
        return responses

    async def handle_MAIL(  # noqa: N802
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        answer = self._next(self.mail, server)
        if answer.startswith("2"):
            envelope.mail_from = address
            envelope.mail_options.extend(options)
        return answer

    async def handle_RCPT(  # noqa: N802
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        answer = self._next(self.rcpt, server)
        if answer.startswith("2"):
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(  # noqa: N802
        self, server: SMTP, session: Session, envelope: Envelope
    ) -> str:
        self.taken.append(envelope)
        answer = self._next(self.data, server)
        if not answer.startswith("2") and answer != "drop":
            self.taken.pop()
        return answer

    def _next(self, answers: list[str], server: SMTP) -> str:
        answer = answers.pop(0) if answers else "250 OK"
        if answer == "drop":
            assert isinstance(server.transport, asyncio.WriteTransport)
            server.transport.abort()
        return answer


@pytest.fixture(scope="session")
def certificates(tmp_path_factory: pytest.TempPathFactory) -> Certificates:
    """One for localhost, one for another host."""
    hosts = {"right": "localhost", "wrong": "mail.other.example"}
    return make_certificates(tmp_path_factory.mktemp("certificates"), hosts)


ServerMaker = Callable[..., int]


@pytest.fixture
def scripted() -> Iterator[ServerMaker]:
    """Starts servers that follow a script; gives the port. `login_word` asks for a login."""
    running: list[Controller] = []

    def start(script: Script, login_word: str = "", **options: object) -> int:
        if login_word:

            def check(
                server: SMTP, session: Session, envelope: Envelope, mechanism: str, data: object
            ) -> AuthResult:
                good = isinstance(data, LoginPassword) and data.password == login_word.encode()
                return AuthResult(success=good, handled=False)

            options |= {"authenticator": check, "auth_required": True}
        controller = Controller(script, hostname="localhost", port=free_port(), **options)  # type: ignore[arg-type]
        controller.start()
        running.append(controller)
        return controller.port

    yield start
    for controller in running:
        controller.stop()
