"""With what are the pages served: the program, how the browser reaches them, what is kept ready?"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fleet.desk.page_reader import page_reader
from fleet.domain.records import Role
from fleet.services.access.meter import Meter
from fleet.services.access_ports import Hasher
from fleet.services.scan_ports import PageReader
from fleet.web.hosts import Names

if TYPE_CHECKING:
    from fleet.services.board import Board
    from fleet.services.overview import Overviews
    from fleet.wiring import Program

__all__ = ["WebSite"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WebSite:
    """One process's pages.

    is_behind_tls: a proxy in front of it speaks TLS with the browsers, and says so itself.
    """

    program: Program
    hasher: Hasher
    board: Board
    overviews: Overviews
    names: Names
    """Under these alone a request is answered; where there are none, under any."""
    is_behind_tls: bool = False
    second_factor: frozenset[Role] = frozenset({Role.CONSULTANT, Role.MANAGER})
    """The roles that set up a second factor before they see anything."""
    meter: Meter = field(default_factory=Meter)
    """How much each program has asked lately."""
    page_reader: PageReader | None = field(default_factory=page_reader)
    """What reads scanned charts; None where its libraries are not installed."""
