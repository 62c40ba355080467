"""The small state with a receiver of webhooks beside it, on loopback, that a test's seam allows."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from fleet.domain.records import Role
from fleet.domain.webhooks import Webhook
from fleet.services.webhook_ports import DeliveryRow
from fleet.web.site import WebSite
from tests.fleet.web.lab import Browser, Lab, make_lab
from tests.https_receiver import HOST, Receiver, guard_of
from tests.tls_certificates import make_certificates

__all__ = ["Hooked", "hooked_lab"]


@dataclass
class Hooked:
    """The lab, the receiver, and the manager's browser."""

    lab: Lab
    receiver: Receiver
    manager: Browser

    def add(self, **more: object) -> str:
        """Subscribe the receiver, and answer the secret that is shown."""
        fields = {"url": self.receiver.url, "events": ["overdue", "services"], "region": ""}
        answer = self.manager.post("/setup/webhooks/add", {**fields, **more})
        assert answer.status_code == 200, answer.text
        assert answer.headers["Cache-Control"] == "no-store"
        return shown_secret(answer.text)

    def webhooks(self) -> list[Webhook]:
        with self.lab.program.store.begin() as record:
            return list(record.webhooks.all())

    def rows(self) -> list[DeliveryRow]:
        with self.lab.program.store.begin() as record:
            return list(record.webhooks.rows())

    @property
    def number(self) -> str:
        (one,) = self.webhooks()
        return one.number

    def tick(self) -> None:
        """One minute of the timetable, with the program that serves the pages."""
        worker = self.lab.web.program.worker(None)
        done = worker.tick()
        worker.leadership.give_up()
        assert not done.says, done.says

    def serves(self, number: str = "A-1", on: str = "2026-03-02") -> None:
        """The lead records a service on the unit's page."""
        fields = {"task": "annual-service", "on": on, "vendor": "Vendrick", "anyway": "yes"}
        lead = self.lab.as_role(Role.SITE_LEAD)
        answer = lead.post(f"/units/{number}/service", fields)
        assert answer.status_code == 302, answer.text

    def passes(self, **time: float) -> None:
        self.lab.now[0] += dt.timedelta(**time)


def shown_secret(page: str) -> str:
    """The secret of a page that shows one."""
    found = re.search(r"whsec_[A-Za-z0-9+/=]+", page)
    assert found is not None
    return found[0]


@contextmanager
def hooked_lab(folder: Path) -> Iterator[Hooked]:
    """The lab whose webhooks may go to this machine."""
    known = make_certificates(folder, {"right": HOST})
    guard, _ = guard_of(known.file("right"))

    def allows(web: WebSite) -> WebSite:
        return replace(web, program=replace(web.program, call_guard=guard))

    made = make_lab(folder, change=allows)
    with (
        closing(made.program),
        closing(made.web.program),
        Receiver(known.context("right")) as receiver,
    ):
        yield Hooked(made, receiver, made.as_role(Role.MANAGER))
