"""How does one look at the demo's pages: on which day, as whom, and by which password?

The pages are served on the demo's own day, so that what they show is what the commands show.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from rich.console import RenderableType

from fleet.cli.demo_trip import confirmed_trip
from fleet.cli.grids import command, grid, heading, printed
from fleet.domain.records import Role
from fleet.errors import BadInput
from fleet.services.access import accounts, benches
from fleet.services.access.caller import Caller
from fleet.services.access.given_links import PACKET_DAYS, give_packet, give_trip
from fleet.services.jobs.queue import queue_job
from fleet.services.ports import Stamp

if TYPE_CHECKING:
    from fleet.services.ports import Record
    from fleet.wiring import Program

__all__ = ["doors", "on_the_day"]

_SITE: Final = "adams"
"""The site whose lead and bench come in; its consultant does too."""
_MORNING: Final = dt.timedelta(hours=14)
"""After midnight in UTC: 8 o'clock at most of the state's laboratories, 7 in its west."""
_AT_BENCH: Final = ("GR", "Glenn Rowanthal")
_BY: Final = "demo"


def on_the_day(program: Program, day: dt.date) -> Program:
    """The program with a clock that stood at the morning of a day when this was called.

    Nobody is asked for a second factor by it: the passwords are made up, and shown once.
    """
    began, clock = program.clock(), program.clock
    morning = dt.datetime.combine(day, dt.time(), dt.UTC) + _MORNING
    settings = replace(program.settings, second_factor=())
    return replace(
        program,
        settings=settings,
        clock=lambda: morning + (clock() - began),
        clock_is_set=True,
    )


def doors(program: Program) -> str:
    """Let one person of each role in, and tell by what; each time by other words."""
    from fleet.web.hasher import ArgonHasher

    caller = Caller(
        now=program.clock(),
        address="this machine",
        label="",
        hasher=ArgonHasher(),
        draw=program.draw_token,
    )
    with program.store.begin(write=True) as record:
        rows = list(_accounts(record, caller))
        code = benches.bench_code(record, caller, _SITE, _BY)
        _, pin = benches.give_pin(record, caller, _SITE, *_AT_BENCH, _BY)
        links = list(_links(program, record, caller))
        record.commit()
    return "\n" + printed(
        heading("Who may come in, at /sign-in"),
        grid(rows, ["as", "e-mail", "password"]),
        "",
        heading(f"The bench of {_SITE}, at /bench/enrol in another browser"),
        f"code {code} within 15 minutes; then {_AT_BENCH[0]} with PIN {pin}",
        "",
        heading("Who comes by a link, without an account"),
        *links,
        "",
        f"The pages' clock stands at {program.clock():%Y-%m-%d %H:%M} UTC and goes on;"
        " no mail is sent.",
    )


def _links(program: Program, record: Record, caller: Caller) -> Iterator[RenderableType]:
    """The ways in of an inspector and of a vendor's technician."""
    today = caller.now.date()
    span = {"site": _SITE, "from": f"{today.replace(year=today.year - 2)}", "to": f"{today}"}
    stamp = Stamp(at=caller.now, by=_BY, source="command")
    asked = {**span, "made_by": _BY}
    job = queue_job(record, program.draw_token(), "packet", asked, stamp)
    yield f"inspector, of two years of {_SITE}, once they are packed:"
    yield command(f"/p/{give_packet(record, caller, job, span, PACKET_DAYS, _BY)}", 2)
    region = record.register().sites[(_SITE,)].region
    try:
        visits = confirmed_trip(program, record, region, _BY)
    except BadInput as error:
        yield f"technician: none, for {error.faults[0].problem}; {error.faults[0].mend}"
        return
    sites = ", ".join(dict.fromkeys(visit.site for visit in visits))
    yield f"technician, {visits[0].technician}, of the trip to {sites} on {visits[0].trip_on}:"
    yield command(f"/t/{give_trip(record, caller, visits, _BY)}", 2)


def _accounts(record: Record, caller: Caller) -> Iterator[Sequence[str]]:
    register = record.register()
    site = register.sites[(_SITE,)]
    emails = {Role.SITE_LEAD: site.lead_email}
    for person in register.people.values():
        if person.role is Role.MANAGER or person.region == site.region:
            emails.setdefault(person.role, person.email)
    for role, email in sorted(emails.items()):
        password = caller.draw()[:20]
        token = accounts.invite(record, caller, email, _BY).rsplit("/", 1)[1]
        hashed = caller.hasher.hashed(password)
        accounts.set_password(record, caller, token, password, hashed)
        yield [role.value, email, password]
