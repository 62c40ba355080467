"""Which pages are there, and for whom? A page cannot be added without saying who may open it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from flask.typing import ResponseReturnValue

from fleet.domain.records import Role

__all__ = ["ANYBODY", "SIGNED_IN", "Operations", "Pages", "Route", "Who"]

Who = frozenset[Role] | None
ANYBODY: Final[Who] = None
"""Also those who have not signed in."""
SIGNED_IN: Final[frozenset[Role]] = frozenset(Role)
"""Whoever has signed in, whatever they answer for."""

View = Callable[..., ResponseReturnValue]


@dataclass(frozen=True, slots=True)
class Route:
    """One page or act: its rule, its methods and who may ask for it."""

    rule: str
    name: str
    view: View
    methods: tuple[str, ...]
    who: Who
    takes_json: bool
    """True: may be sent as JSON by our own script, and then needs no form token."""
    is_api: bool = False
    """True: for programs, that ask with a token; no cookie opens it, and no token a page."""


class Pages:
    """The pages of one module, in the order in which they stand there."""

    def __init__(self) -> None:
        self.routes: list[Route] = []

    def get(self, rule: str, *, who: Who) -> Callable[[View], View]:
        """A page that is looked at; it writes nothing."""
        return self._route(rule, ("GET",), who)

    def post(self, rule: str, *, who: Who, takes_json: bool = False) -> Callable[[View], View]:
        """An act; its form carries a token of the browser's."""
        return self._route(rule, ("POST",), who, takes_json=takes_json)

    def _route(
        self, rule: str, methods: tuple[str, ...], who: Who, *, takes_json: bool = False
    ) -> Callable[[View], View]:
        def keep(view: View) -> View:
            self.routes.append(Route(rule, _name(view), view, methods, who, takes_json))
            return view

        return keep


class Operations:
    """What programs may ask of one module, in the order in which it stands there."""

    def __init__(self) -> None:
        self.routes: list[Route] = []

    def get(self, rule: str, *, who: Who) -> Callable[[View], View]:
        """A question; it writes nothing. Open to tokens that read, where `who` names a role."""
        return self._route(rule, "GET", who)

    def post(self, rule: str, *, who: Who) -> Callable[[View], View]:
        """An act; it takes a token that may write, and JSON."""
        return self._route(rule, "POST", who)

    def _route(self, rule: str, method: str, who: Who) -> Callable[[View], View]:
        def keep(view: View) -> View:
            name = f"api.{_name(view)}"
            self.routes.append(Route(rule, name, view, (method,), who, False, is_api=True))
            return view

        return keep


def _name(view: Callable[..., Any]) -> str:
    return f"{view.__module__.rpartition('.')[2]}.{view.__name__}"
