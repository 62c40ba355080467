"""How is a day's mail planned by hand? Through the same outbox, so that nothing goes twice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from fleet.domain.records import Role
from fleet.services.mail_ports import OutboxRow
from fleet.services.mailing.digest import DigestRun, RecordRoot
from fleet.services.mailing.digest_run import digest_run
from fleet.services.mailing.plan import Planner, Planning, Tools
from fleet.services.mailing.readers import READERS
from fleet.services.mailing.wanted import People, Wanted
from fleet.services.ports import Record
from fleet.services.questions import Question
from notifications.cadence import Period, week_period
from notifications.messages import Kind
from notifications.outbox import outbox_key

__all__ = ["PlannedByHand", "plan_by_hand", "shown_by_hand"]


@dataclass(frozen=True, slots=True)
class PlannedByHand:
    """The digests of a day as they were written, what became of them, and what stood there."""

    run: DigestRun
    planning: Planning
    standing: tuple[OutboxRow, ...]
    """Messages of the same readers, kinds and week that were planned before."""
    day_taken: tuple[str, ...]
    """Addresses that have had another mail that day, and get no second one."""


def shown_by_hand(
    record: Record,
    tools: Tools,
    on: dt.date,
    roles: Collection[Role],
    now: dt.datetime,
    root: RecordRoot | None,
) -> tuple[DigestRun, list[str]]:
    """Every digest of a day as it would be planned now, and the units that could not be answered;
    nothing is written. root: the one that was sealed; None: the present one.
    """
    people = _people(record, tools, on)
    kinds = {READERS[role] for role in roles or READERS}
    chosen = [
        (email, kind)
        for email, reader in people.readers.all.items()
        for kind in kinds & reader.people.keys()
    ]
    return digest_run(
        record,
        tools.public_holidays,
        Question(now=now, on=on),
        on,
        tools.settings,
        roles,
        root,
        Planner(record, people, tools, now).beside(chosen, (), on, {}),
        send_at=people.times.send_at,
    )


def _people(record: Record, tools: Tools, on: dt.date) -> People:
    noon = dt.datetime.combine(on, dt.time(12), dt.UTC)
    return People.of(record.register(), record.holiday_years(), tools.public_holidays, noon)


def plan_by_hand(
    record: Record, tools: Tools, on: dt.date, roles: Collection[Role], now: dt.datetime
) -> PlannedByHand:
    """Plan every digest of a day that is not in the outbox yet; the caller commits."""
    people = _people(record, tools, on)
    kinds, name = {READERS[role] for role in roles or READERS}, week_period(on)
    monday = on - dt.timedelta(days=on.weekday())
    wanted: list[Wanted] = []
    standing: list[OutboxRow] = []
    for reader in people.readers.all.values():
        for kind in sorted(kinds & reader.people.keys()):
            row = record.mail.row(outbox_key(reader.email, kind, name))
            if row is not None:
                standing.append(row)
            else:
                period = Period(kind, name, monday, monday + dt.timedelta(days=6))
                wanted.append(Wanted(reader, period, on, ""))
    planner = Planner(record, people, tools, now)
    run = planner.digests(wanted, on, {})
    taken = tuple(m.email for m in run.messages if not _is_planned(record, m.email, m.kind, name))
    return PlannedByHand(run, planner.result, tuple(standing), taken)


def _is_planned(record: Record, email: str, kind: Kind, name: str) -> bool:
    return record.mail.row(outbox_key(email, kind, name)) is not None
