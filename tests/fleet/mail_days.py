"""A small state in five time zones, and what its mail should look like by the calendar alone."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from zoneinfo import ZoneInfo

from fleet.domain.mail_times import MailSetting
from fleet.domain.records import Person, RegisterRecord, Role, Site, Unit
from fleet.services.mail_ports import OutboxRow
from fleet.storage import SqlStore
from notifications.cadence import week_period
from notifications.messages import Kind
from tests.fleet.services.mailing.mail_fleet import change

ZONES = (*("America/New_York", "America/Chicago", "America/Denver", "America/Phoenix", "UTC"),)
SEND_AT = {Kind.SITE_LEAD: "07:00", Kind.CONSULTANT: "03:00", Kind.MANAGER: "23:30"}
MINUTE, DAY = dt.timedelta(minutes=1), dt.timedelta(days=1)

__all__ = ["DAY", "MINUTE", "SEND_AT", "found_wrong", "make_state", "minutes_between"]


def make_state(store: SqlStore, since_on: dt.date) -> None:
    """A site, a lead, a consultant and a manager in each zone; a unit at each site."""
    records = [one for n, zone in enumerate(ZONES) for one in _of_zone(n, zone, since_on)]
    records += [MailSetting(name=f"send_at_{kind.value}", value=at) for kind, at in SEND_AT.items()]
    start = dt.datetime.combine(since_on, dt.time(), dt.UTC)
    change(store, *records, at=start, initial=True)


def _of_zone(number: int, zone: str, since_on: dt.date) -> list[RegisterRecord]:
    name, region = f"site{number}", f"Region {number}"
    return [
        Site(
            site=name,
            name=f"Laboratory {number}",
            county=f"County {number}",
            region=region,
            country="US",
            subdivision="NE",
            time_zone=zone,
            open_days="Mon Tue Wed Thu Fri",
        ),
        Unit(
            property_number=f"U-{number}",
            kind="microscope",
            manufacturer="Exemplar",
            model="M1",
            serial="",
            site=name,
            in_service_on=since_on,
        ),
        Person(email=f"lead{number}@lab.example", name="", role=Role.SITE_LEAD, site=name),
        Person(
            email=f"consultant{number}@lab.example", name="", role=Role.CONSULTANT, region=region
        ),
        Person(
            email=f"manager{number}@lab.example",
            name="",
            role=Role.MANAGER,
            region=region,
            time_zone=zone,
        ),
    ]


def minutes_between(
    first: dt.datetime, last: dt.datetime, is_fine: Callable[[dt.datetime], bool]
) -> Iterator[dt.datetime]:
    """Every minute where it is fine, every twenty elsewhere."""
    at = first
    while at < last:
        yield at
        at += MINUTE if is_fine(at) else 20 * MINUTE


def found_wrong(
    store: SqlStore, weeks: Sequence[dt.date], is_closed: Callable[[dt.date], bool]
) -> list[str]:
    """What is not as it should be, judged from the calendar: a line a fault.

    weeks: the Mondays of the whole weeks driven.
    """
    with store.begin() as record:
        rows = record.mail.rows()
    faults: list[str] = []
    of_week: dict[tuple[str, str], list[OutboxRow]] = defaultdict(list)
    days: Counter[tuple[str, dt.date]] = Counter()
    for row in rows:
        if row.kind in SEND_AT:
            of_week[row.recipient, row.period].append(row)
        if row.day is not None:
            days[row.recipient, row.day] += 1
            faults += _badly_timed(row, is_closed)
    faults += [f"{who} got {n} mails on {on}" for (who, on), n in days.items() if n > 1]
    for role in ("lead", "consultant", "manager"):
        for number in range(len(ZONES)):
            who = f"{role}{number}@lab.example"
            for monday in weeks:
                found = of_week.get((who, week_period(monday)), [])
                if len(found) != 1:
                    faults.append(f"{who}, week of {monday}: {len(found)} decisions")
    return faults


def _badly_timed(row: OutboxRow, is_closed: Callable[[dt.date], bool]) -> Iterator[str]:
    zone = ZoneInfo(ZONES[int(row.recipient.partition("@")[0][-1])])
    local = row.planned_at.astimezone(zone)
    send_at = dt.time.fromisoformat(SEND_AT.get(row.kind, "07:00"))
    if row.day != local.date() or is_closed(local.date()):
        yield f"{row.recipient}: {row.kind.value} {row.period} went on {local}"
    # On the day of a change a time that comes twice is the first, one that is left out is later.
    if local.time() < send_at:
        yield f"{row.recipient}: {row.kind.value} {row.period} went before its hour, at {local}"
