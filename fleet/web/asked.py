"""What is asked in one request: by whom, when, of what, and with what may it be answered?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from flask import abort, g, render_template, request

from fleet.domain.access import ApiToken, Device, Session
from fleet.domain.records import Role, Site, Unit
from fleet.domain.register import Register
from fleet.errors import Fault
from fleet.services.access.caller import Caller
from fleet.services.access.visitor import Visitor
from fleet.services.ports import PublicHolidays, Record, Stamp, Store
from fleet.services.standing import site_of, today_of
from fleet.services.why import unit_of
from fleet.web.navigation import NavigationLink, links_of
from fleet.web.tokens import form_token

if TYPE_CHECKING:
    from fleet.web.site import WebSite

__all__ = ["Asked", "asked"]


@dataclass(slots=True)
class Asked:
    """One request; pages ask it for everything."""

    web: WebSite
    caller: Caller
    visitor: Visitor
    session: Session | None
    device: Device | None
    cookie: str
    """What the browser holds, known or not; forms are tied to it."""
    new_cookie: str | None = None
    """What it is to hold from now on; '' for nothing."""
    new_device_cookie: str | None = None
    masks: list[str] = field(default_factory=list)
    """What differs in the page each time, and is no news."""
    token: ApiToken | None = None
    """With what a program asks; None for a page."""

    @property
    def now(self) -> dt.datetime:
        """The instant of the request."""
        return self.caller.now

    @property
    def store(self) -> Store:
        """The database."""
        return self.web.program.store

    @property
    def public_holidays(self) -> PublicHolidays:
        """Where holidays are looked up."""
        return self.web.program.public_holidays

    def read(self) -> AbstractContextManager[Record]:
        """A unit of work that reads."""
        return self.store.begin()

    def write(self) -> AbstractContextManager[Record]:
        """A unit of work that writes; commit it."""
        return self.store.begin(write=True)

    def stamp(self, source: str = "page") -> Stamp:
        """Who writes, now, and through which door."""
        source = "bench" if self.visitor.device else "api" if self.token else source
        return Stamp(at=self.now, by=self.visitor.by, source=source)

    def site(self, register: Register, name: str, *roles: Role) -> Site:
        """A site that the visitor may see in one of these roles; else there is no such page."""
        site = register.sites.get((name,))
        if site is None or name not in self.visitor.sites(*roles):
            abort(404)
        return site

    def unit(self, register: Register, number: str, *roles: Role) -> Unit:
        """A unit that stands today at a site the visitor may see; NotFound or no such page."""
        unit = unit_of(register, number)
        stands = site_of(register, unit, today_of(register, unit, self.now))
        self.site(register, stands, *roles)
        return unit

    def field(self, name: str) -> str:
        """What was written into a field of the form; '' where it is not there."""
        return request.form.get(name, "").strip()

    def fields(self, name: str) -> list[str]:
        """What was chosen of several of one name."""
        return request.form.getlist(name)

    @property
    def is_meant(self) -> bool:
        """Say whether the person was shown what is doubtful, and means it."""
        return request.form.get("anyway") == "yes"

    def form_token(self) -> str:
        """A token for this page's forms; a browser without a cookie gets one with the answer."""
        if not self.cookie:
            self.cookie = self.new_cookie = self.caller.draw()
        if not self.masks:
            self.masks.append(form_token(self.cookie))
        return self.masks[0]

    def links(self) -> Sequence[NavigationLink]:
        """The visitor's own pages, for the head of every page."""
        return links_of(self.visitor, request.path)

    def page(self, template: str, **facts: Any) -> str:  # noqa: ANN401 - what a template shows
        """Render a page."""
        return render_template(template, asked=self, visitor=self.visitor, **facts)

    def form_again(
        self,
        template: str,
        faults: Sequence[Fault],
        **facts: Any,  # noqa: ANN401
    ) -> tuple[str, int]:
        """Render a form again with what is wrong with it, and what was typed."""
        by_field: Mapping[str, Fault] = {fault.column or "": fault for fault in faults}
        return self.page(template, faults=faults, fault_of=by_field, **facts), 400


def asked() -> Asked:
    """The present request."""
    found: Asked = g.asked
    return found
