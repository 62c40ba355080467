"""How is one webhook handed over, and what does the answer mean? The only door to a web server.

One POST over TLS to an address that was looked at just before (web_addresses), signed, within
EXCHANGE_SECONDS in all; no redirect is followed, and of the answer only the status, Retry-After and
nothing of the body is kept. http.client and ssl of the standard library do: what is wanted of a
client library (a pool, redirects, proxies) is what must not happen here, and none of them lets the
name be resolved by somebody else.
"""

from __future__ import annotations

import datetime as dt
import email.utils
import http.client
import io
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, cast

from notifications.errors import BadWebAddress, NotNow
from notifications.messages import Call
from notifications.outbox import Answer, Outcome
from notifications.signatures import signed_headers
from notifications.web_addresses import Guard, WebAddress, web_address

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer, WriteableBuffer

__all__ = ["EXCHANGE_SECONDS", "CallDoor"]

EXCHANGE_SECONDS: Final = 10.0
"""From looking the name up to the end of the answer."""
_CONNECT_SECONDS: Final = 4.0
_MOST_READ: Final = 1024
"""Bytes that are read at once, and of an answer's body at all, for its sender to see an end."""
_MOST_HEAD: Final = 16_384
"""Bytes of an answer that are taken from the network in all."""
_LATER: Final = frozenset({408, 425, 429})
"""Of the 4xx, those that ask for another try (RFC 9110 15.5.9, RFC 8470 5.2, RFC 6585 4)."""
_GONE: Final = 410


@dataclass(slots=True)
class CallDoor:
    """Hands webhooks over; a receiver that did not answer is left alone for the rest of a round."""

    clock: Callable[[], dt.datetime]
    stopwatch: Callable[[], float]
    guard: Guard = field(default_factory=Guard)
    _silent: set[str] = field(default_factory=set)

    def send(self, call: Call) -> Answer:
        """The answer to one webhook; NotNow where its receiver did not answer to another.

        2xx is taken; 5xx, 408, 425, 429 and no answer at all are tried again; any other is not.
        """
        if call.webhook in self._silent:
            raise NotNow
        ends_at = self.stopwatch() + EXCHANGE_SECONDS
        try:
            address = web_address(call.url)
            machines = self.guard.machines(address)
            answer = self._exchanged(call, address, list(machines), ends_at)
        except BadWebAddress as error:
            outcome = Outcome.REFUSED if error.is_final else Outcome.DEFERRED
            answer = Answer(outcome, None, str(error))
        if answer.outcome is Outcome.DEFERRED:
            self._silent.add(call.webhook)
        return answer

    def _exchanged(
        self, call: Call, address: WebAddress, machines: list[str], ends_at: float
    ) -> Answer:
        try:
            wire = self._connected(address, machines, ends_at)
        except ssl.SSLCertVerificationError as error:
            words = f"its certificate cannot be trusted ({error.verify_message.rstrip('.')})"
            return Answer(Outcome.DEFERRED, None, words)
        except ssl.SSLError as error:
            words = f"no TLS 1.2 or later could be agreed on ({error.reason or 'no reason given'})"
            return Answer(Outcome.DEFERRED, None, words)
        except OSError as error:
            return Answer(Outcome.DEFERRED, None, f"no connection: {_why(error)}")
        try:
            return self._asked(call, address, wire)
        except (OSError, http.client.HTTPException) as error:
            words = f"no answer, it may have arrived: {_why(error)}"
            return Answer(Outcome.DEFERRED, None, words)
        finally:
            wire.end()

    def _connected(self, address: WebAddress, machines: list[str], ends_at: float) -> _Wire:
        """A connection to the first of the machines that takes one, its certificate verified."""
        context = ssl.create_default_context(cafile=self.guard.trusts)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        for number, machine in enumerate(machines, 1):
            left = min(_CONNECT_SECONDS, max(0.01, ends_at - self.stopwatch()))
            try:
                plain = socket.create_connection((machine, address.port), timeout=left)
            except OSError:
                if number == len(machines) or self.stopwatch() >= ends_at:
                    raise
                continue
            plain.settimeout(max(0.01, ends_at - self.stopwatch()))
            try:
                tls = context.wrap_socket(plain, server_hostname=address.host)
            except BaseException:
                plain.close()
                raise
            return _Wire(tls, lambda: ends_at - self.stopwatch())
        raise OSError("the name leads to no machine")

    def _asked(self, call: Call, address: WebAddress, wire: _Wire) -> Answer:
        """Send the request and read its answer."""
        at = self.clock()
        headers = {
            "Host": address.host_header,
            "User-Agent": "Dueward",
            "Content-Type": "application/json",
            "Accept": "*/*",
            "Connection": "close",
            **signed_headers(call.message_id, at, call.body, call.secrets),
        }
        connection = http.client.HTTPConnection(address.host, address.port)
        connection.sock = cast(Any, wire)
        try:
            connection.request("POST", address.target, call.body, headers)
            response = connection.getresponse()
            status, later = response.status, response.getheader("Retry-After", "")
            _read_on(response)
        finally:
            connection.close()
        return _answer(status, _wait(later, at))


class _Wire:
    """A TLS connection on which nothing lasts beyond one instant: what http.client takes of it."""

    def __init__(self, tls: ssl.SSLSocket, seconds_left: Callable[[], float]) -> None:
        self._tls, self._seconds_left = tls, seconds_left

    def sendall(self, content: ReadableBuffer) -> None:
        """Send it all."""
        self._tls.settimeout(max(0.01, self._seconds_left()))
        self._tls.sendall(content)

    def makefile(self, *_: object) -> io.BufferedReader:
        """What the answer is read from."""
        return io.BufferedReader(_Reading(self._tls, self._seconds_left), _MOST_READ)

    def close(self) -> None:
        """Nothing yet: http.client says so before the body is read."""

    def end(self) -> None:
        """Let go, without waiting for the other end."""
        self._tls.close()


class _Reading(io.RawIOBase):
    """The bytes that come, as long as there is time and until they are too many."""

    def __init__(self, tls: ssl.SSLSocket, seconds_left: Callable[[], float]) -> None:
        super().__init__()
        self._tls, self._seconds_left, self._taken = tls, seconds_left, 0

    def readable(self) -> bool:
        """It is."""
        return True

    def readinto(self, into: WriteableBuffer) -> int:
        """The next bytes; TimeoutError where the time is over, OSError where they are too many."""
        left = self._seconds_left()
        if left <= 0:
            raise TimeoutError
        room = memoryview(into)[: _MOST_HEAD - self._taken]
        if not room:
            raise OSError("the answer is too long")
        self._tls.settimeout(left)
        count = self._tls.recv_into(room)
        self._taken += count
        return count


def _read_on(response: http.client.HTTPResponse) -> None:
    """Read the beginning of the body and throw it away; the status is known already."""
    try:
        response.read(_MOST_READ)
    except (OSError, http.client.HTTPException):
        return


def _answer(status: int, wait: dt.timedelta | None) -> Answer:
    """What a status means for the webhook (RFC 9110 15)."""
    if 200 <= status < 300:
        return Answer(Outcome.SENT, status, "taken")
    if status >= 500 or status in _LATER or status < 200:
        return Answer(Outcome.DEFERRED, status, "not now", wait)
    if status == _GONE:
        return Answer(Outcome.REFUSED, status, "gone: it wants no more")
    if 300 <= status < 400:
        words = "it leads elsewhere; subscribe with the address it leads to"
        return Answer(Outcome.REFUSED, status, words)
    return Answer(Outcome.REFUSED, status, "refused")


def _wait(text: str, at: dt.datetime) -> dt.timedelta | None:
    """What Retry-After asks for: seconds, or a date (RFC 9110 10.2.3); None for anything else."""
    if text.isascii() and text.isdigit():
        return dt.timedelta(seconds=min(int(text[:9]), 10**8))
    try:
        until = email.utils.parsedate_to_datetime(text)
    except (TypeError, ValueError):
        return None
    until = until if until.tzinfo is not None else until.replace(tzinfo=dt.UTC)
    return max(until - at, dt.timedelta())


def _why(error: Exception) -> str:
    """Why there is no answer, without a word of the other end's."""
    if isinstance(error, TimeoutError):
        return "nothing came in time"
    if isinstance(error, http.client.RemoteDisconnected | ConnectionResetError | BrokenPipeError):
        return "the connection was closed"
    if isinstance(error, http.client.HTTPException):
        return "what came was no answer in HTTP"
    if isinstance(error, OSError) and error.strerror:
        return error.strerror
    return str(error) if isinstance(error, OSError) else type(error).__name__
