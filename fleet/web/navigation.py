"""Which pages does somebody go to again and again? Those of what they answer for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from fleet.domain.records import Role
from fleet.services.access.visitor import Visitor
from fleet.web.who import LEADS

__all__ = ["NavigationLink", "links_of"]


@dataclass(frozen=True, slots=True)
class NavigationLink:
    """One of the visitor's own pages."""

    path: str
    words: str
    is_here: bool


def links_of(visitor: Visitor, path: str) -> Sequence[NavigationLink]:
    """The links of a visitor; path: of the page they are on."""
    found = list(_links(visitor))
    best = max((to for to, _ in found if path == to or path.startswith(f"{to}/")), default="")
    return [NavigationLink(to, words, to == best) for to, words in found]


def _links(visitor: Visitor) -> Iterator[tuple[str, str]]:
    own_sites = sorted(visitor.sites(Role.SITE_LEAD, Role.BENCH))
    if len(own_sites) == 1:
        yield f"/bench/{quote(own_sites[0])}", "Bench"
    if Role.MANAGER in visitor.roles:
        yield "/program", "Program"
    if visitor.sites(Role.CONSULTANT, Role.MANAGER):
        yield "/region", "Region" if visitor.sites(Role.CONSULTANT) else "State"
        yield "/people", "People"
        yield "/links", "Links"
        yield "/setup", "Set-up"
    own = sorted(visitor.sites(Role.SITE_LEAD))
    if len(own) == 1:
        yield f"/sites/{quote(own[0])}", "Site"
    if visitor.sites(*LEADS):
        yield "/scans", "Scans"
    if visitor.email:
        yield "/account", "Account"
