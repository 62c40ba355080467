"""A small state behind its pages: three sites in two regions, and somebody in every role."""

from __future__ import annotations

import datetime as dt
import secrets
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from fleet.domain.access import BenchPerson, Device
from fleet.domain.records import Role
from fleet.services.access.caller import Caller
from fleet.services.access.sessions import begin_session
from fleet.services.board import Board
from fleet.services.links import token_hash
from fleet.services.load import load
from fleet.services.overview import Overviews
from fleet.web.app import make_app
from fleet.web.guard import COOKIE, DEVICE_COOKIE
from fleet.web.hosts import names_of
from fleet.web.site import WebSite
from fleet.web.tokens import form_token
from fleet.wiring import Program, Settings
from tests.fakes import NoProgress

__all__ = [
    "FILES",
    "HOST",
    "NOON",
    "PASSWORD",
    "PEOPLE",
    "Browser",
    "Lab",
    "PlainHasher",
    "make_lab",
]

NOON = dt.datetime(2026, 3, 3, 18, tzinfo=dt.UTC)
"""Tuesday 3 March 2026, noon in Chicago."""
HOST = "https://pages.example"
PASSWORD = "velvet turnip orchard lantern"  # noqa: S105 - of invented people

PEOPLE = {
    Role.CONSULTANT: "north@bench.example",
    Role.SITE_LEAD: "lead@alder.example",
    Role.MANAGER: "program@bench.example",
    Role.BENCH: "bench@alder.example",
    Role.VENDOR: "dispatch@vendor.example",
    Role.INSPECTOR: "visits@inspection.example",
}
"""An address in each role; the consultant answers for North, the lead and the bench for alder."""

FILES = {
    "sites.csv": """\
site,name,county,region,country,subdivision,time_zone,open_days,lead_email
alder,Alder Laboratory,Adams,North,US,NE,America/Chicago,Mon Tue Wed Thu Fri,lead@alder.example
birch,Birch Hill Laboratory,Boone,South,US,NE,America/Chicago,Mon Tue Wed Thu Fri,lead@birch.example
cedar,Cedar Bluff Laboratory,Cass,North,US,NE,America/Chicago,Mon Tue Wed Thu Fri,lead@cedar.example
""",
    "units.csv": """\
property_number,kind,manufacturer,model,serial,site,in_service_on,record_from
A-1,microscope,Exemplar,M1,100,alder,2025-01-06,2026-02-23
A-2,microscope,Exemplar,M2,102,alder,2025-01-06,2026-02-23
A-3,refrigerator,Exemplar,R1,103,alder,2025-01-06,2026-02-23
B-1,microscope,Exemplar,M1,101,birch,2024-05-01,2026-02-23
C-1,microscope,Exemplar,M1,104,cedar,2024-05-01,2026-02-23
""",
    "entries.csv": """\
property_number,task,on,to,mark,initials
A-1,annual-service,2025-01-03,,done,OV
A-2,annual-service,2025-04-03,,done,OV
B-1,annual-service,2025-04-10,,done,OV
C-1,annual-service,2024-12-20,,done,OV
A-1,optics,2026-02-23,2026-03-02,done,GR
A-2,optics,2026-02-23,2026-02-27,done,GR
B-1,optics,2026-02-23,2026-02-25,done,HS
""",
    "people.csv": """\
email,name,role,site,region
north@bench.example,Noor Northgate,consultant,,North
lead@alder.example,Lee Alderman,site lead,alder,
program@bench.example,Max Mandrake,manager,,
bench@alder.example,Bo Benchley,bench,alder,
dispatch@vendor.example,Val Vendrick,vendor,,
visits@inspection.example,Ina Inspell,inspector,,
""",
    "rules.toml": """\
[kind.microscope]
name = "Bench microscope"

[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces, top down"
each = "open-day"
source = "common practice, no source"
cautions = ["Unplug before any liquid comes near."]

[[kind.microscope.rule]]
task = "annual-service"
title = "Service by the vendor"
every = "P1Y"
early = 45
grace = 15
vendor = true
minutes = 60
fee = 12000
source = "common practice, no source"

[kind.refrigerator]
name = "Laboratory refrigerator"

[[kind.refrigerator.rule]]
task = "temperature"
title = "Read the temperature"
each = "open-day"
range = { low = 2.0, high = 8.0, unit = "C" }
source = "common practice, no source"
cautions = ["Outside the range: keep the stock cold elsewhere first."]
""",
}


class PlainHasher:
    """Stands in for argon2, which takes 15 ms by design."""

    def hashed(self, secret: str) -> str:
        return f"plain:{secret}"

    def fits(self, kept: str, secret: str) -> bool:
        return bool(kept) and kept == f"plain:{secret}"

    def is_dated(self, kept: str) -> bool:
        return False


@dataclass
class Browser:
    """One browser: a client with its cookies, which sends what a page of ours would send."""

    client: FlaskClient

    def get(self, path: str, **options: object) -> TestResponse:
        return self.client.get(path, base_url=HOST, **options)

    def page(self, path: str) -> str:
        """The text of a page that must be there; follows no redirect."""
        answer = self.get(path)
        assert answer.status_code == 200, (path, answer.status_code, answer.text[:500])
        return answer.text

    def post(
        self, path: str, fields: Mapping[str, object] | None = None, **options: object
    ) -> TestResponse:
        """Send a form of ours, with its token."""
        cookie = self.client.get_cookie(COOKIE, domain="pages.example")
        if cookie is None:
            self.get("/sign-in")
            cookie = self.client.get_cookie(COOKIE, domain="pages.example")
        token = form_token(cookie.value if cookie else "")
        data = {"form_token": token, **(fields or {})}
        answer = self.client.post(path, base_url=HOST, data=data, **options)
        # The client keeps a large form in a file, and leaves it open.
        answer.request.environ["wsgi.input"].close()
        return answer

    def holds(self, name: str, value: str) -> None:
        """Put a cookie into the browser."""
        self.client.set_cookie(name, value, domain="pages.example", secure=True)


@dataclass
class Lab:
    """The pages of the small state, and its clock."""

    program: Program
    web: WebSite
    app: Flask
    now: list[dt.datetime] = field(default_factory=lambda: [NOON])

    def caller(self) -> Caller:
        return Caller(
            now=self.now[0],
            address="192.0.2.7",
            label="a browser",
            hasher=self.web.hasher,
            draw=self.program.draw_token,
        )

    def browser(self) -> Browser:
        """A browser that nobody has signed in with."""
        return Browser(self.app.test_client())

    def signed_in(self, email: str) -> Browser:
        """A browser that is signed in to an account, which is made if there is none."""
        from fleet.domain.access import Account

        with self.program.store.begin(write=True) as record:
            if record.access.account(email) is None:
                made = Account(
                    email=email,
                    password_hash=f"plain:{PASSWORD}",
                    password_at=self.now[0],
                    made_at=self.now[0],
                )
                record.access.put_account(made)
            token = begin_session(record.access, self.caller(), email=email)
            record.commit()
        browser = self.browser()
        browser.holds(COOKIE, token)
        return browser

    def as_role(self, role: Role) -> Browser:
        """A browser signed in to the account of a role."""
        return self.signed_in(PEOPLE[role])

    def at_bench(self, site: str = "alder", initials: str = "GR") -> Browser:
        """A browser that is the bench of a site, where somebody has given a PIN."""
        token, now = self.program.draw_token(), self.now[0]
        device = Device(
            number=secrets.token_hex(4),
            site=site,
            name="Bench by the window",
            token_hash=token_hash(token),
            enrolled_by="lead@alder.example",
            enrolled_at=now,
        )
        person = BenchPerson(
            site=site,
            initials=initials,
            name="Glenn Rowanthal",
            pin_hash="plain:1234",
            made_by="lead@alder.example",
            made_at=now,
        )
        with self.program.store.begin(write=True) as record:
            record.access.put_device(device)
            record.access.put_bench_person(person)
            session = begin_session(
                record.access, self.caller(), device=device.number, initials=initials
            )
            record.commit()
        browser = self.browser()
        browser.holds(DEVICE_COOKIE, token)
        browser.holds(COOKIE, session)
        return browser


def make_lab(
    folder: Path, url: str = "", change: Callable[[WebSite], WebSite] | None = None
) -> Lab:
    """The small state in a new database (SQLite in the folder, or a fleet without sites at url)."""
    files = folder / "files"
    files.mkdir()
    for name, text in FILES.items():
        (files / name).write_text(text, encoding="utf-8")
    now = [NOON]
    program = Program(
        settings=Settings(database=url or f"sqlite:///{folder / 'fleet.db'}"),
        clock=lambda: now[0],
        stopwatch=lambda: 0.0,
        user="tester",
    )
    with closing(program.at(program.settings.database)) as maker, maker.filled() as store:
        load(
            store,
            maker.reader([files]),
            maker.public_holidays,
            maker.rebuild,
            stamp=maker.stamp("file"),
            progress=NoProgress(),
        )
    web = WebSite(
        program=program,
        hasher=PlainHasher(),
        board=Board(program.public_holidays),
        overviews=Overviews(program.public_holidays),
        names=names_of(HOST),
        second_factor=frozenset(),
    )
    web = change(web) if change else web
    return Lab(program, web, make_app(web), now)


def with_second_factor(web: WebSite) -> WebSite:
    """The same pages, where consultants and managers set up a second factor."""
    return replace(web, second_factor=frozenset({Role.CONSULTANT, Role.MANAGER}))
