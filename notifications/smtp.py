"""How does one message get to the mail server, and what does its answer mean?

The only module that knows smtplib. One recipient a message; the connection is kept for up to
PER_CONNECTION messages. Certificates are always verified; without TLS only on the same machine.
"""

from __future__ import annotations

import ipaddress
import re
import smtplib
import ssl
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from pathlib import Path
from types import TracebackType
from typing import Final, Self
from urllib.parse import unquote, urlsplit

from notifications.addresses import normal_address, one_line
from notifications.errors import BadAddress, BadSettings, ServerFault
from notifications.messages import Mail
from notifications.outbox import Answer, Outcome
from notifications.settings import Settings

__all__ = [
    "PER_CONNECTION",
    "Answer",
    "Door",
    "Outcome",
    "Security",
    "Server",
    "ready_server",
    "server",
]

PER_CONNECTION: Final = 50
"""A common server refuses the 101st message of a connection with 452."""
_CONNECT_SECONDS: Final = 30.0
_COMMAND_SECONDS: Final = 300.0
"""RFC 5321 4.5.3.2: five minutes for MAIL and RCPT."""
_DATA_SECONDS: Final = 600.0
"""RFC 5321 4.5.3.2.6: ten minutes after the final dot, or what was accepted is sent again."""
_LOGIN: Final = frozenset({530, 534, 535, 538})
"""Replies about us and not about the reader: TLS or a login is missing (RFC 3207, RFC 4954)."""
_MAILBOX: Final = "5.2."
"""RFC 3463 3.3: the reader's mailbox, so not our size; full (5.2.2) or with a limit (5.2.3)."""
_CHECK_LOGIN: Final = (
    "check DUEWARD_SMTP, DUEWARD_SMTP_PASSWORD_FILE and DUEWARD_MAIL_FROM with whoever runs it"
)
_CHECK_SIZE: Final = "have the server take larger messages"
_CHECK_SERVER: Final = "check DUEWARD_SMTP and that the server is running and can be reached"
_CHECK_TLS: Final = (
    "use a server that offers TLS with a certificate for its name;"
    " for a certificate of your own set DUEWARD_SMTP_CA_FILE"
)
_SETTING: Final = "DUEWARD_SMTP"
_FORMS: Final = (
    "write smtp://USER@HOST:587 (STARTTLS), smtps://USER@HOST:465 or smtp://localhost:2525"
)


class Security(StrEnum):
    """How the connection is protected."""

    STARTTLS = "starttls"
    IMPLICIT = "implicit"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Server:
    """A mail server and how to speak to it; `user` '' means no login."""

    host: str
    port: int
    security: Security
    user: str = ""
    password_file: Path | None = None
    ca_file: Path | None = None

    def __str__(self) -> str:
        return f"{self.host}:{self.port}"


def server(settings: Settings) -> Server:
    """Read the server setting; BadSettings where it cannot be used or would not be safe.

    `smtp://` means STARTTLS, save on a loopback host without a user, which is spoken to plainly.
    """
    try:
        url = urlsplit(settings.smtp)
        host, port = url.hostname or "", url.port
    except ValueError as error:
        raise BadSettings(_SETTING, f"'{_hidden(settings.smtp)}' is not a URL", _FORMS) from error
    if url.scheme not in ("smtp", "smtps") or not host or url.path.strip("/") or url.query:
        raise BadSettings(_SETTING, f"'{_hidden(settings.smtp)}' names no mail server", _FORMS)
    if url.password is not None:
        raise BadSettings(
            _SETTING,
            "it holds a password, which others on this machine can see",
            "put the password in a file and name it in DUEWARD_SMTP_PASSWORD_FILE",
        )
    user = unquote(url.username or "")
    if not user.isascii():
        problem = "its user holds more than ASCII characters"
        raise BadSettings(_SETTING, problem, "log in with a user of ASCII characters")
    if user and settings.smtp_password_file is None:
        raise BadSettings(
            "DUEWARD_SMTP_PASSWORD_FILE", f"it is not set, but {_SETTING} names a user", "set it"
        )
    security = Security.IMPLICIT if url.scheme == "smtps" else Security.STARTTLS
    if security is Security.STARTTLS and not user and _is_loopback(host):
        security = Security.NONE
    usual = {Security.IMPLICIT: 465, Security.STARTTLS: 587, Security.NONE: 25}
    return Server(
        host=host,
        port=port or usual[security],
        security=security,
        user=user,
        password_file=settings.smtp_password_file,
        ca_file=settings.smtp_ca_file,
    )


def ready_server(settings: Settings) -> Server:
    """As `server`; also BadSettings where the files it names cannot be used now."""
    at = server(settings)
    _password(at)
    _tls(at)
    return at


def _hidden(url: str) -> str:
    """The URL as it may be shown: without a password."""
    return re.sub(r"(://[^/@]*?):.*@", r"\1:***@", one_line(url))


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


class Door:
    """A connection that is made when needed and made anew when it is worn out or lost."""

    def __init__(self, at: Server) -> None:
        self._server = at
        self._smtp: smtplib.SMTP | None = None
        self._used = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._close()

    def send(self, mail: Mail) -> Answer:
        """Hand one message over and say what became of it.

        A connection lost before the message was handed over, 421, and 452 at MAIL are tried once
        more on a new connection. ServerFault: the fault is ours or the server's and sending must
        stop. BadAddress: an envelope address is not in its normal form (smtplib would silently
        write to another one).
        """
        for address in (mail.envelope_from, mail.envelope_to):
            if normal_address(address) != address:
                raise BadAddress(address, f"write it as {normal_address(address)}")
        try:
            return self._tried(mail)
        except _WornOut:
            self._close()
        try:
            return self._tried(mail)
        except _WornOut as lost:
            self._close()
            return Answer(Outcome.DEFERRED, lost.code, lost.text)

    def _tried(self, mail: Mail) -> Answer:
        """One try; _WornOut where a new connection may help."""
        smtp = self._connected()
        self._used += 1
        try:
            self._check_size(smtp, mail)
            options = [f"size={len(mail.content)}"] if smtp.has_extn("size") else []
            code, words = smtp.mail(mail.envelope_from, options)
            if code != 250:
                return self._refused(smtp, "MAIL", code, words)
            code, words = smtp.rcpt(mail.envelope_to)
            if code not in (250, 251):
                return self._refused(smtp, "RCPT", code, words)
        except (smtplib.SMTPException, OSError) as error:
            raise _WornOut(None, f"connection lost: {one_line(str(error))}") from error
        return self._handed_over(smtp, mail.content)

    def _handed_over(self, smtp: smtplib.SMTP, content: bytes) -> Answer:
        """From DATA on nothing is tried twice at once: what was lost may have arrived."""
        try:
            _set_timeout(smtp, _DATA_SECONDS)
            code, words = smtp.data(content)
            _set_timeout(smtp, _COMMAND_SECONDS)
        except smtplib.SMTPDataError as error:
            return self._refused(smtp, "DATA", error.smtp_code, error.smtp_error)
        except (smtplib.SMTPException, OSError) as error:
            self._close()
            text = f"connection lost, it may have arrived: {one_line(str(error))}"
            return Answer(Outcome.DEFERRED, None, text)
        if code != 250:
            return self._refused(smtp, "DATA", code, words)
        return Answer(Outcome.SENT, code, _words(words))

    def _refused(self, smtp: smtplib.SMTP, step: str, code: int, reply: bytes | str) -> Answer:
        """What a reply other than yes means (RFC 5321 4.2.1: 4xx try again, 5xx do not)."""
        text = _words(reply)
        if code < 400 or code == 421 or (code == 452 and step == "MAIL"):
            raise _WornOut(code, f"{step}: {text}")
        if code == 552 and step == "MAIL":
            raise ServerFault(str(self._server), step, code, text, _CHECK_SIZE, is_size=True)
        if code in _LOGIN or (code >= 500 and step == "MAIL"):
            raise ServerFault(str(self._server), step, code, text, _CHECK_LOGIN)
        if code == 552 and step == "DATA" and not text.startswith(_MAILBOX):
            raise ServerFault(str(self._server), step, code, text, _CHECK_SIZE, is_size=True)
        with suppress(smtplib.SMTPException, OSError):
            smtp.rset()
        is_final = code >= 500 and code != 552
        return Answer(Outcome.REFUSED if is_final else Outcome.DEFERRED, code, f"{step}: {text}")

    def _check_size(self, smtp: smtplib.SMTP, mail: Mail) -> None:
        """Ask what the server advertised before it refuses (RFC 1870)."""
        most = smtp.esmtp_features.get("size", "")
        if most.isdigit() and 0 < int(most) < len(mail.content):
            problem = f"the message has {len(mail.content)} bytes, the server takes {most}"
            raise ServerFault(str(self._server), "SIZE", None, problem, _CHECK_SIZE, is_size=True)

    def _connected(self) -> smtplib.SMTP:
        """The open connection, or a new one after PER_CONNECTION messages; ServerFault if none."""
        if self._smtp is not None and self._used >= PER_CONNECTION:
            self._close()
        if self._smtp is None:
            self._smtp, self._used = self._opened(), 0
        return self._smtp

    def _opened(self) -> smtplib.SMTP:
        at = self._server
        try:
            return _opened(at)
        except smtplib.SMTPNotSupportedError as error:
            step = "STARTTLS" if "STARTTLS" in str(error) else "login"
            raise ServerFault(str(at), step, None, str(error), _CHECK_TLS) from error
        except smtplib.SMTPResponseException as error:
            is_login = error.smtp_code in _LOGIN
            mend = _CHECK_LOGIN if is_login else _CHECK_SERVER
            text = _words(error.smtp_error)
            raise ServerFault(str(at), "connecting", error.smtp_code, text, mend) from error
        except ssl.SSLError as error:
            raise ServerFault(str(at), "TLS", None, _reason(error), _CHECK_TLS) from error
        except (smtplib.SMTPException, OSError) as error:
            text = one_line(str(error)) or type(error).__name__
            raise ServerFault(str(at), "connecting", None, text, _CHECK_SERVER) from error

    def _close(self) -> None:
        smtp, self._smtp, self._used = self._smtp, None, 0
        if smtp is not None:
            with suppress(smtplib.SMTPException, OSError):
                smtp.quit()
            smtp.close()


class _WornOut(Exception):
    """The connection is no longer of use; `code` None where it was lost."""

    def __init__(self, code: int | None, text: str) -> None:
        self.code, self.text = code, text
        super().__init__(text)


def _opened(at: Server) -> smtplib.SMTP:
    """A connection that is protected and logged in; never a login without TLS."""
    password = _password(at)
    context = None if at.security is Security.NONE else _tls(at)
    smtp: smtplib.SMTP
    if at.security is Security.IMPLICIT:
        smtp = smtplib.SMTP_SSL(at.host, at.port, timeout=_CONNECT_SECONDS, context=context)
    else:
        smtp = smtplib.SMTP(at.host, at.port, timeout=_CONNECT_SECONDS)
    try:
        smtp.ehlo_or_helo_if_needed()
        if at.security is Security.STARTTLS:
            smtp.starttls(context=context)
            smtp.ehlo()
        _set_timeout(smtp, _COMMAND_SECONDS)
        if at.user:
            smtp.login(at.user, password)
    except BaseException:
        smtp.close()
        raise
    return smtp


@lru_cache(maxsize=4)
def _tls(at: Server) -> ssl.SSLContext:
    """Certificates and host names are verified; smtplib's own default would take any."""
    try:
        return ssl.create_default_context(cafile=str(at.ca_file) if at.ca_file else None)
    except OSError as error:
        raise BadSettings(
            "DUEWARD_SMTP_CA_FILE",
            f"'{at.ca_file}' cannot be read as certificates ({one_line(str(error))})",
            "name a file of PEM certificates",
        ) from error


def _password(at: Server) -> str:
    """The password, in ASCII: smtplib can send no other."""
    if not at.user or at.password_file is None:
        return ""
    try:
        return at.password_file.read_text(encoding="ascii").rstrip("\r\n")
    except UnicodeDecodeError:
        raise BadSettings(
            "DUEWARD_SMTP_PASSWORD_FILE",
            f"'{at.password_file}' holds more than ASCII characters",
            "save it as plain text, with a password of ASCII characters",
        ) from None  # the error behind it would show the password
    except OSError as error:
        raise BadSettings(
            "DUEWARD_SMTP_PASSWORD_FILE",
            f"'{at.password_file}' cannot be read ({error.strerror})",
            "name a file that this program may read",
        ) from error


def _set_timeout(smtp: smtplib.SMTP, seconds: float) -> None:
    if smtp.sock is not None:
        smtp.sock.settimeout(seconds)


def _words(reply: bytes | str) -> str:
    return one_line(reply.decode("utf-8", "replace") if isinstance(reply, bytes) else reply)


def _reason(error: ssl.SSLError) -> str:
    """What is wrong with the certificate, or the library's reason."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"its certificate cannot be trusted ({one_line(error.verify_message)})"
    return one_line(str(error.reason or error))
