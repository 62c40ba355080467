"""Where does a webhook go: is its address one that may be written to, and to which machine is that?

An address is looked at when it is saved and each time something is sent, and the connection is made
to the very network address that was looked at: a name that means another machine a moment later
(DNS rebinding) leads nowhere.
"""

from __future__ import annotations

import ipaddress
import re
import socket
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from notifications.errors import BadWebAddress
from notifications.public_addresses import Address, not_public

__all__ = ["MOST_SIGNS", "Guard", "WebAddress", "resolved", "web_address"]

MOST_SIGNS: Final = 500
_HTTPS_PORT: Final = 443
_FIRST_FREE_PORT: Final = 1024
"""Below it stand the services of machines: mail, shells, files."""
_LAST_PORT: Final = 65_535
_RESOLVE_SECONDS: Final = 4.0
_HOST: Final = re.compile(r"[a-z0-9_-]+(\.[a-z0-9_-]+)*\.?|[0-9a-f:]+(\d+(\.\d+){3})?")
_FORM: Final = "write it as https://HOST/PATH"

Resolve = Callable[[str, int], Sequence[str]]


@dataclass(frozen=True, slots=True)
class WebAddress:
    """A web address, taken apart; `target` is what stands after the host."""

    host: str
    port: int
    target: str

    @property
    def host_header(self) -> str:
        """How the request names the host."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.port == _HTTPS_PORT else f"{host}:{self.port}"


def web_address(url: str) -> WebAddress:
    """Take an address apart; BadWebAddress for one that a webhook may not have as it is written."""
    if len(url) > MOST_SIGNS:
        raise BadWebAddress(f"the address has more than {MOST_SIGNS} characters", "shorten it")
    if not url.isascii() or not url.isprintable() or " " in url:
        mend = "write a host's name in its ASCII form (xn--...) and a space as %20"
        raise BadWebAddress("the address holds characters that no web address has", mend)
    try:
        parts = urlsplit(url)
        host, port = parts.hostname or "", parts.port
    except ValueError:
        raise BadWebAddress(f"'{url}' is not a web address", _FORM) from None
    if parts.scheme != "https":
        raise BadWebAddress("only https is sent to, so that nobody reads along", _FORM)
    if not _HOST.fullmatch(host):
        raise BadWebAddress("the address names no host", _FORM)
    if "@" in parts.netloc:
        mend = "leave out what stands before the @; the signature says who sends"
        raise BadWebAddress("the address holds a user or a password", mend)
    if parts.fragment or url.endswith("#"):
        raise BadWebAddress("what follows the # is never sent", "leave it out")
    port = _HTTPS_PORT if port is None else port
    if port != _HTTPS_PORT and not _FIRST_FREE_PORT <= port <= _LAST_PORT:
        raise BadWebAddress(f"port {port} belongs to another service", "use 443, or 1024 and above")
    query = f"?{parts.query}" if parts.query else ""
    return WebAddress(host.rstrip("."), port, (parts.path or "/") + query)


def resolved(host: str, port: int) -> Sequence[str]:
    """The network addresses of a name, asked for once; OSError where there are none in time."""
    found: list[str] = []
    fault: list[OSError | UnicodeError] = []

    def ask() -> None:
        try:
            infos = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
            found.extend(dict.fromkeys(str(info[4][0]) for info in infos))
        except (OSError, UnicodeError) as error:
            fault.append(error)

    # The system's resolver has no time limit of its own.
    thread = threading.Thread(target=ask, name="resolver", daemon=True)
    thread.start()
    thread.join(_RESOLVE_SECONDS)
    if fault or not found:
        raise OSError("no answer in time" if not fault else "no such name")
    return found


@dataclass(frozen=True, slots=True)
class Guard:
    """Which machines may be spoken to. No setting changes it; tests give another resolver."""

    resolve: Resolve = resolved
    allows: Callable[[Address], bool] = lambda _: False
    """Addresses that may be written to although they are not public: none."""
    trusts: Path | None = None
    """Certificates to trust instead of the machine's."""

    def machines(self, address: WebAddress) -> Sequence[str]:
        """The network addresses behind a web address, all of them public.

        BadWebAddress where its name leads nowhere, or any of them is not public.
        """
        try:
            found = self.resolve(address.host, address.port)
        except OSError as error:
            problem = f"the name {address.host} could not be looked up ({error})"
            mend = "check how it is written, and that this machine may ask for names"
            raise BadWebAddress(problem, mend, is_final=False) from None
        for text in found:
            words = self._refusal(text)
            if words:
                problem = f"{address.host} leads to {text}, an address that is {words}"
                mend = "give one that the public internet reaches"
                raise BadWebAddress(problem, mend, is_final=False)
        return found

    def _refusal(self, text: str) -> str:
        try:
            address = ipaddress.ip_address(text)
        except ValueError:
            return "no network address"
        if isinstance(address, ipaddress.IPv6Address) and address.scope_id is not None:
            return "link-local"
        return "" if self.allows(address) else not_public(address)
