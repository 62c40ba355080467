"""From where does a request come, when, and with what chance is what it is given drawn?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from fleet.domain.access import AccessEvent, Act
from fleet.services.access_ports import Access, Hasher

__all__ = ["Caller"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caller:
    """One request's surroundings; `draw` makes tokens of 32 characters or more."""

    now: dt.datetime
    address: str
    """The client's network address."""
    label: str
    """What the browser calls itself, cut short."""
    hasher: Hasher
    draw: Callable[[], str]

    def log(self, access: Access, act: Act, who: str, about: str = "") -> None:
        """Add a line to the access log; the caller's unit of work commits it."""
        event = AccessEvent(at=self.now, act=act, who=who, address=self.address, about=about)
        access.log(event, self.draw())
