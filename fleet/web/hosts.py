"""Under which names are the pages asked for, and what is said under another?

A page of a stranger's can let its own name lead to this machine; a browser then takes both for one
site, and lets it read ours (DNS rebinding). So nothing is answered but under a name that is known.
"""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import urlsplit

from flask import request
from werkzeug.exceptions import MisdirectedRequest, SecurityError

from fleet.errors import BadInput, Fault

__all__ = ["Names", "loopback_names", "names_of", "refuse_other_names"]

Names = frozenset[str]
"""What a browser may send as Host, in lower case; the port is left out where it is the usual."""

_PORTS: Final = {"http": 80, "https": 443}
_HOST: Final = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9._-]+)(:[0-9]*)?", re.ASCII)
"""Host of RFC 9110, 7.2: no user, no space, one port; of names those that DNS knows."""
_LOOPBACK: Final = ("localhost", "127.0.0.1", "::1")


def names_of(base_url: str) -> Names:
    """The names that DUEWARD_BASE_URL stands for; none for ''. BadInput for what is no address."""
    if not base_url:
        return frozenset()
    try:
        parts = urlsplit(base_url)
        usual = _PORTS[parts.scheme]
        names = _names((parts.hostname or "").encode("idna").decode(), parts.port, usual)
    except (KeyError, ValueError):  # also of a name that DNS cannot hold, and of a port
        names = frozenset()
    if not names or "@" in base_url or not all(map(_HOST.fullmatch, names)):
        problem = f"'{base_url}' is not where a browser reaches pages"
        mend = "write it as https://pages.example"
        raise BadInput([Fault("DUEWARD_BASE_URL", None, None, problem, mend)])
    return names


def loopback_names(host: str, port: int) -> Names:
    """The names under which this machine alone reaches what it serves at a port.

    host: the address that is listened on, which may have a name of its own.
    """
    own = (_names(name, port, _PORTS["http"]) for name in (*_LOOPBACK, host.lower()))
    return frozenset().union(*own)


def _names(host: str, port: int | None, usual: int) -> Names:
    """A host with its port; without it too, where it is the usual."""
    host = f"[{host}]" if ":" in host else host
    if port not in (None, usual):
        return frozenset({f"{host}:{port}"})
    return frozenset({host, f"{host}:{usual}"})


def refuse_other_names(names: Names) -> None:
    """Refuse a request under another name with 421, and one whose Host is none with 400.

    Host is what the proxy hands on where one is trusted, and else what the browser sent. A name
    that ends with a dot is another one: to a browser its pages are another site. Where no names are
    known any will do.
    """
    host = request.environ.get("HTTP_HOST", "").lower()
    if _HOST.fullmatch(host) is None:
        raise SecurityError("no such host")
    if names and host.removesuffix(":") not in names:
        raise MisdirectedRequest
