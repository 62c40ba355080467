"""A small invented state with a lead at each site, and what mail is planned with."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from fleet.charts.layout import ChartLayout
from fleet.charts.pdf import chart_pdf
from fleet.domain.records import Person, RegisterRecord, Role, Site, Unit
from fleet.domain.register import Change
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.services.charts.facts import PrintedChart
from fleet.services.charts.printing import Means
from fleet.services.mail_ports import OutboxRow
from fleet.services.mailing.plan import Planning, Tools
from fleet.services.mailing.tick import Memo, plan_due_work
from fleet.services.ports import Stamp
from fleet.storage import SqlStore
from notifications.outbox import State
from notifications.settings import Settings

MONDAY = dt.date(2026, 11, 30)
_HOLIDAYS = PublicHolidayCalendar()
LEAD, BIRCH_LEAD = "ana@alder.example", "ben@birch.example"
CONSULTANT, MANAGER = "robin@state.example", "max@state.example"

__all__ = [
    "BIRCH_LEAD", "CONSULTANT", "LEAD", "MANAGER", "MONDAY", "Minutes", "a_fleet", "at", "change",
    "mail_tools", "sent_rows",
]  # fmt: skip


def at(on: dt.date, time: str = "07:00", zone: str = "America/Chicago") -> dt.datetime:
    """The instant of a local time."""
    from zoneinfo import ZoneInfo

    return dt.datetime.combine(on, dt.time.fromisoformat(time), ZoneInfo(zone)).astimezone(dt.UTC)


def _site(name: str, lead: str = "", zone: str = "America/Chicago", region: str = "North") -> Site:
    return Site(
        site=name,
        name=f"{name.title()} Laboratory",
        county=name.title(),
        region=region,
        country="US",
        subdivision="NE",
        time_zone=zone,
        open_days="Mon Tue Wed Thu Fri",
        lead_email=lead,
    )


def _unit(number: str, site: str) -> Unit:
    return Unit(
        property_number=number,
        kind="microscope",
        manufacturer="Exemplar",
        model="M1",
        serial="1",
        site=site,
        in_service_on=dt.date(2025, 6, 2),
        record_from_on=dt.date(2026, 11, 2),
    )


def a_fleet(store: SqlStore, *more: RegisterRecord) -> SqlStore:
    """Two sites with a lead and a unit each, a consultant, a manager; known from the beginning."""
    records: list[RegisterRecord] = [
        _site("alder"),
        _site("birch", region="South"),
        _unit("A-1", "alder"),
        _unit("B-1", "birch"),
        Person(email=LEAD, name="Ana Quist", role=Role.SITE_LEAD, site="alder"),
        Person(email=BIRCH_LEAD, name="Ben Orr", role=Role.SITE_LEAD, site="birch"),
        Person(
            email=CONSULTANT,
            name="Robin Vell",
            role=Role.CONSULTANT,
            region="North",
            time_zone="America/Chicago",
        ),
        Person(
            email=CONSULTANT,
            name="Robin Vell",
            role=Role.CONSULTANT,
            region="South",
            time_zone="America/Chicago",
        ),
        Person(email=MANAGER, name="Max Orr", role=Role.MANAGER, time_zone="America/Chicago"),
        *more,
    ]
    change(store, *records, at=at(dt.date(2026, 1, 1)), initial=True)
    return store


def change(
    store: SqlStore, *records: RegisterRecord, at: dt.datetime, initial: bool = False
) -> None:
    """Write records into the register, each a new one."""
    stamp = Stamp(at=at, by="command:ana", source="command")
    with store.begin(write=True) as record:
        record.change([Change(old=None, new=one, initial=initial) for one in records], stamp)
        record.commit()


def mail_tools(store: SqlStore, now: Callable[[], dt.datetime], base_url: str = "") -> Tools:
    """What mail is planned with; numbers of prints are counted up."""
    count = iter(range(1, 10_000))

    def draw(printed: Sequence[PrintedChart], made_at: dt.datetime) -> bytes:
        return chart_pdf(printed, "letter", made_at)

    return Tools(
        public_holidays=_HOLIDAYS,
        settings=Settings(base_url=base_url),
        means=lambda: Means(
            public_holidays=_HOLIDAYS,
            layout=ChartLayout(),
            number=lambda: f"{next(count):08d}",
            paper="letter",
            step=lambda _: None,
        ),
        draw=draw,
        stamp=lambda: Stamp(at=now(), by="system:mail", source="mail"),
    )


@dataclass
class Minutes:
    """The timetable of one process, driven minute by minute or by leaps."""

    store: SqlStore
    now: dt.datetime = field(default_factory=lambda: at(MONDAY, "06:00"))
    memo: Memo = field(default_factory=Memo)

    def tick(self, now: dt.datetime | None = None) -> Planning:
        """One minute at an instant."""
        self.now = now or self.now
        return plan_due_work(
            self.store, mail_tools(self.store, lambda: self.now), self.now, self.memo
        )

    def until(self, end: dt.datetime, step: dt.timedelta = dt.timedelta(minutes=30)) -> None:
        """Go on to an instant, looking every so often."""
        while self.now < end:
            self.tick(min(self.now + step, end))

    def restarted(self) -> Minutes:
        """Another process from here on, that remembers nothing."""
        return Minutes(self.store, self.now)


def sent_rows(store: SqlStore, recipient: str = "") -> list[OutboxRow]:
    """What stands in the outbox to be sent, in the order it was planned."""
    with store.begin() as record:
        rows = record.mail.rows((), recipient)
    return [row for row in rows if row.state is not State.SUPPRESSED]
