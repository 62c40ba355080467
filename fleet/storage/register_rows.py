"""How is the register kept? As change lines, and as tables that hold what they add up to."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from fleet.domain.evidence import Action, Extension, Renumbering, Review, ServiceReport
from fleet.domain.mail_times import Absence, MailSetting, QuietPeriod
from fleet.domain.prints import Print
from fleet.domain.records import (
    Closure,
    Holiday,
    Outage,
    Pattern,
    Person,
    Placement,
    RegisterRecord,
    Site,
    Unit,
)
from fleet.domain.register import Change, Register
from fleet.domain.visits import SiteVisit, StoredPlan, TechnicianDaysOff, UnsuitableDays
from fleet.services.ports import ChangeLine, Stamp
from fleet.storage import schema
from fleet.storage.book_rows import read_book
from fleet.storage.canonical import canonical_json
from fleet.storage.chains import append_lines
from fleet.storage.codec import WITHDRAWN, from_json, to_json

__all__ = [
    "TABLES",
    "apply_changes",
    "bring_up_table",
    "read_changes",
    "read_register",
    "replay_register",
    "standing_and_replayed",
    "withdrawn_keys",
]


@dataclass(frozen=True, slots=True)
class _Subject:
    """One class of register record; its chain bears the table's name."""

    kind: type[RegisterRecord]
    table: sa.Table
    mapping: str
    """The field of Register that holds such records."""

    @property
    def names(self) -> list[str]:
        return [field.name for field in fields(self.kind)]


_SUBJECTS = (
    _Subject(Site, schema.site, "sites"),
    _Subject(Pattern, schema.weekly_pattern, "patterns"),
    _Subject(Holiday, schema.holiday, "holidays"),
    _Subject(Closure, schema.closure, "closures"),
    _Subject(Unit, schema.unit, "units"),
    _Subject(Placement, schema.placement, "placements"),
    _Subject(Outage, schema.outage, "outages"),
    _Subject(Person, schema.person, "people"),
    _Subject(Renumbering, schema.renumbering, "renumberings"),
    _Subject(Extension, schema.extension, "extensions"),
    _Subject(ServiceReport, schema.service_report, "reports"),
    _Subject(Action, schema.action, "actions"),
    _Subject(Review, schema.review, "reviews"),
    _Subject(Print, schema.chart_print, "prints"),
    _Subject(Absence, schema.absence, "absences"),
    _Subject(QuietPeriod, schema.quiet_period, "quiet_periods"),
    _Subject(MailSetting, schema.mail_setting, "mail_settings"),
    _Subject(StoredPlan, schema.visit_plan, "plans"),
    _Subject(SiteVisit, schema.site_visit, "visits"),
    _Subject(UnsuitableDays, schema.unsuitable_days, "unsuitable_days"),
    _Subject(TechnicianDaysOff, schema.technician_days_off, "technician_days_off"),
)
"""In the order in which they refer to each other."""

TABLES = tuple(subject.table.name for subject in _SUBJECTS)
"""The tables of the register; each is also the name of a chain of change lines."""


def read_register(connection: sa.Connection) -> Register:
    """The register as it is now, from its tables."""
    found: dict[str, Any] = {}
    for subject in _SUBJECTS:
        names = subject.names
        rows = connection.execute(sa.select(*(subject.table.c[name] for name in names)))
        records = [subject.kind(**dict(zip(names, row, strict=True))) for row in rows]
        found[subject.mapping] = {record.key: record for record in records}
    return Register(**found, book=read_book(connection, None))


def replay_register(connection: sa.Connection, known_at: datetime) -> Register:
    """The register as the change lines known at an instant add up to it (design 4.6)."""
    line = schema.change_line.c
    found: dict[str, Any] = {}
    for subject in _SUBJECTS:
        rows = connection.execute(
            sa.select(line.key, line.new)
            .where(line.chain == subject.table.name)
            .where(sa.or_(line.initial, line.stored_at <= known_at))
            .order_by(line.seq)
        )
        latest = dict(rows.all())
        found[subject.mapping] = {
            tuple(json.loads(key)): from_json(subject.kind, new)
            for key, new in latest.items()
            if new != WITHDRAWN
        }
    return Register(**found, book=read_book(connection, known_at))


def standing_and_replayed(
    connection: sa.Connection, table: str
) -> tuple[dict[tuple[str, ...], RegisterRecord], dict[tuple[str, ...], RegisterRecord]]:
    """The records of one table as they stand, and as its change lines add up to them, by key."""
    (subject,) = (subject for subject in _SUBJECTS if subject.table.name == table)
    line, kind, names = schema.change_line.c, subject.kind, subject.names
    rows = connection.execute(sa.select(*(subject.table.c[name] for name in names)))
    standing = [kind(**dict(zip(names, row, strict=True))) for row in rows]
    lines = sa.select(line.key, line.new).where(line.chain == table).order_by(line.seq)
    latest = dict(connection.execute(lines).all())
    replayed = [from_json(kind, new) for new in latest.values() if new != WITHDRAWN]
    return {record.key: record for record in standing}, {record.key: record for record in replayed}


def withdrawn_keys(
    connection: sa.Connection, kind: type[RegisterRecord]
) -> frozenset[tuple[str, ...]]:
    """The keys of the records of a class that were ever withdrawn, also of those back since."""
    (table,) = (subject.table for subject in _SUBJECTS if subject.kind is kind)
    line = schema.change_line.c
    query = sa.select(line.key).where(line.chain == table.name).where(line.new == WITHDRAWN)
    return frozenset(tuple(json.loads(key)) for key in connection.execute(query).scalars())


def read_changes(connection: sa.Connection) -> Iterator[ChangeLine]:
    """Every change line, chain by chain, in the order of each."""
    line = schema.change_line.c
    query = sa.select(line.old, line.new, line.initial, line.stored_at, line.by).order_by(line.seq)
    for subject in _SUBJECTS:
        rows = connection.execute(query.where(line.chain == subject.table.name))
        for old, new, initial, stored_at, by in rows:
            change = Change(
                old=None if old is None else from_json(subject.kind, old),
                new=None if new == WITHDRAWN else from_json(subject.kind, new),
                initial=initial,
            )
            yield ChangeLine(change, stored_at, by)


def apply_changes(connection: sa.Connection, changes: Sequence[Change], stamp: Stamp) -> None:
    """Append a change line for each change and bring the tables up to them."""
    for subject in _SUBJECTS:
        of_kind = [change for change in changes if type(change.record) is subject.kind]
        if of_kind:
            lines = [_line(change) for change in of_kind]
            columns = ("key", "old", "new", "initial")
            chain = subject.table.name
            append_lines(connection, schema.change_line, columns, lines, stamp, chain)
            _bring_up(connection, subject, of_kind)


def bring_up_table(
    connection: sa.Connection, table: str, lines: Sequence[tuple[str | None, str]]
) -> None:
    """Bring one table up to change lines that stand already: old and new of each, as JSON.

    Raises LookupError, TypeError or ValueError for a text that is no such record.
    """
    (subject,) = (subject for subject in _SUBJECTS if subject.table.name == table)
    changes = [
        Change(
            old=None if old is None else from_json(subject.kind, old),
            new=None if new == WITHDRAWN else from_json(subject.kind, new),
            initial=False,
        )
        for old, new in lines
    ]
    _bring_up(connection, subject, changes)


def _line(change: Change) -> tuple[str | bool | None, ...]:
    old = None if change.old is None else to_json(change.old)
    new = WITHDRAWN if change.new is None else to_json(change.new)
    return (canonical_json(list(change.record.key)), old, new, change.initial)


def _bring_up(connection: sa.Connection, subject: _Subject, changes: Sequence[Change]) -> None:
    """Bring one table up to changes of its records; of several of one record, to the last."""
    latest = {change.record.key: change for change in changes}
    stood = {change.record.key: change.old is not None for change in reversed(changes)}
    names, table, keys = subject.names, subject.table, _key_columns(subject.table)
    new, changed, gone = [], [], []
    for key, change in latest.items():
        row = _values(change.record, names)
        old_key = {f"old_{name}": row[name] for name in keys}
        if change.new is not None and not stood[key]:
            new.append(row)
        elif change.new is not None:
            changed.append(row | old_key)
        elif stood[key]:
            gone.append(old_key)
    this = [table.c[name] == sa.bindparam(f"old_{name}") for name in keys]
    if gone:
        connection.execute(sa.delete(table).where(*this), gone)
    if new:
        connection.execute(sa.insert(table), new)
    if changed:
        others: dict[str, Any] = {name: sa.bindparam(name) for name in names if name not in keys}
        connection.execute(sa.update(table).where(*this).values(others), changed)


def _values(record: RegisterRecord, names: Sequence[str]) -> dict[str, Any]:
    return {name: getattr(record, name) for name in names}


def _key_columns(table: sa.Table) -> list[str]:
    """The columns of a record's natural key; a unit has a number of its own beside it."""
    if table is schema.unit:
        return ["property_number"]
    return [column.name for column in table.primary_key]
