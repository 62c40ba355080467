"""How often may somebody try doors that a token in the address opens?"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from werkzeug.exceptions import TooManyRequests

from fleet.errors import LinkRefused
from fleet.services.access.throttle import wait_after_wrong_link
from fleet.web.asked import Asked

__all__ = ["wrong_links_counted"]


@contextmanager
def wrong_links_counted(asking: Asked) -> Iterator[None]:
    """Count a link that nobody gave, and answer 429 once too many came from one address.

    The token is looked at first, so a right one opens its door all the while; one that was used or
    has ended was given once, and is not counted. Outside of any unit of work.
    """
    try:
        yield
    except LinkRefused as refused:
        wait = 0
        if refused.why == "unknown":
            wait = wait_after_wrong_link(asking.store, asking.caller)
        if wait:
            raise TooManyRequests(retry_after=wait) from refused
        raise
