"""A receiver of webhooks over TLS on loopback, that answers as a test tells it to."""

from __future__ import annotations

import base64
import hashlib
import hmac
import ipaddress
import socket
import ssl
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Self

from notifications.public_addresses import Address
from notifications.web_addresses import Guard

__all__ = ["HOST", "Asked", "Receiver", "Say", "answer", "guard_of", "is_signed"]

HOST = "receiver.example"
LOOPBACK = "127.0.0.1"

Say = Callable[[ssl.SSLSocket], None]


@dataclass(frozen=True)
class Asked:
    """One request as it came."""

    line: str
    headers: dict[str, str]
    body: bytes


def answer(status: int, *headers: str, body: bytes = b"") -> Say:
    """An answer with some headers."""
    head = [f"HTTP/1.1 {status} Said", f"Content-Length: {len(body)}", *headers, "", ""]

    def say(wire: ssl.SSLSocket) -> None:
        wire.sendall("\r\n".join(head).encode() + body)

    return say


@dataclass
class Receiver:
    """Listens as long as it is open. `says` are its answers in their order; 204 after the last."""

    context: ssl.SSLContext
    says: list[Say] = field(default_factory=list)
    asked: list[Asked] = field(default_factory=list)

    def __enter__(self) -> Self:
        self._door = socket.create_server((LOOPBACK, 0))
        self.port: int = self._door.getsockname()[1]
        self._threads: list[threading.Thread] = []
        self._lock = threading.Lock()
        self._begin(self._listen)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._door.shutdown(socket.SHUT_RDWR)
        self._door.close()
        for thread in self._threads:
            thread.join(20)

    @property
    def url(self) -> str:
        return f"https://{HOST}:{self.port}/dueward?of=adams"

    def _begin(self, target: Callable[..., None], *given: object) -> None:
        thread = threading.Thread(target=target, args=given, daemon=True)
        self._threads.append(thread)
        thread.start()

    def _listen(self) -> None:
        while True:
            try:
                plain, _ = self._door.accept()
            except OSError:
                return
            self._begin(self._serve, plain)

    def _serve(self, plain: socket.socket) -> None:
        plain.settimeout(15)
        try:
            with self.context.wrap_socket(plain, server_side=True) as wire:
                self._answer(wire)
        except OSError:
            return
        finally:
            plain.close()

    def _answer(self, wire: ssl.SSLSocket) -> None:
        told = b""
        while b"\r\n\r\n" not in told:
            more = wire.recv(4096)
            if not more:
                return
            told += more
        head, _, body = told.partition(b"\r\n\r\n")
        line, *lines = head.decode().split("\r\n")
        headers = {name.lower(): value for name, _, value in (one.partition(": ") for one in lines)}
        while len(body) < int(headers.get("content-length", "0")):
            body += wire.recv(4096)
        with self._lock:
            self.asked.append(Asked(line, headers, body))
            say = self.says.pop(0) if self.says else answer(204)
        say(wire)


def guard_of(
    trusts: Path | None, *answers: Sequence[str], allows: str = "127.0.0.0/8"
) -> tuple[Guard, list[str]]:
    """A guard whose resolver gives these answers in turn, the last again and again, and which may
    write to this machine; and the names that were asked for.
    """
    left, names = list(answers) or [[LOOPBACK]], list[str]()
    network = ipaddress.ip_network(allows)

    def resolve(host: str, port: int) -> Sequence[str]:
        names.append(host)
        return left.pop(0) if len(left) > 1 else left[0]

    def is_allowed(address: Address) -> bool:
        return address.version == network.version and address in network

    return Guard(resolve=resolve, allows=is_allowed, trusts=trusts), names


def is_signed(one: Asked, secret: str) -> bool:
    """Verify as a receiver would, with nothing of ours (Standard Webhooks 1.0.0)."""
    key = base64.b64decode(secret.removeprefix("whsec_"))
    told = f"{one.headers['webhook-id']}.{one.headers['webhook-timestamp']}.".encode() + one.body
    wanted = base64.b64encode(hmac.new(key, told, hashlib.sha256).digest()).decode()
    signatures = one.headers["webhook-signature"].split(" ")
    return any(hmac.compare_digest(f"v1,{wanted}", given) for given in signatures)
