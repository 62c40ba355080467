"""What is there to mark at a site's bench today, unit by unit, and what is marked already?

A *touch* is one place to mark: a cell that is open today, or a dated duty that is due and that no
vendor does. Kinds come in the order of their names, units in that of their numbers.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fleet.domain.answers import StatusRow
from fleet.domain.records import Mark, Outage, Site, StoredEntry, Unit
from fleet.domain.register import Register
from fleet.services.calendars import CalendarMaker
from fleet.services.columns import book_of
from fleet.services.failed_checks import unpassed
from fleet.services.outages import outage_on
from fleet.services.ports import PublicHolidays, Record
from fleet.services.readings import rule_on
from fleet.services.standing import day_at
from schedules.rules import Basis, Each, Rule

__all__ = ["BenchKind", "BenchSheet", "BenchTask", "BenchUnit", "Marked", "Touch", "bench_sheet"]

_LOOKED_BACK: Final = dt.timedelta(hours=36)
"""Marks of today were stored within this; older ones are told without their author."""
_LEAST_SHARING: Final = 3
_NAMES: Final = uuid.UUID("6f1c1a54-9a43-5a53-8a0e-5b2c7d1f0d11")
"""The namespace of keys that touches have (RFC 9562, 5.5)."""


@dataclass(frozen=True, slots=True)
class Marked:
    """A mark of today."""

    key: str
    mark: Mark
    initials: str
    reading: str
    by: str
    at: dt.datetime
    says: str
    """'found: ...' or a reason; '' for most."""


@dataclass(frozen=True, slots=True)
class Touch:
    """One place to mark."""

    property_number: str
    task: str
    rule: Rule
    on: dt.date
    key: str
    """The key that its mark gets: the same page sent twice is one entry."""
    is_open: bool
    is_late: bool
    """Earlier cells are empty, or a dated duty is past its limit."""
    missed: int
    limit: dt.date | None
    marks: Sequence[Marked]
    """What stands of today, the earliest first; two people may both have marked it."""

    @property
    def is_daily(self) -> bool:
        """Say whether it is a cell of the day: 'not in use' speaks of those alone."""
        return self.rule.each is Each.OPEN_DAY


@dataclass(frozen=True, slots=True)
class BenchUnit:
    """One unit with its places to mark; outage: why it is not to be used."""

    unit: Unit
    outage: Outage | None
    touches: Sequence[Touch]


@dataclass(frozen=True, slots=True)
class BenchTask:
    """What a task of a kind asks for and warns of."""

    task: str
    rule: Rule


@dataclass(frozen=True, slots=True)
class BenchKind:
    """The units of one kind, and the tasks that are still open at any of them."""

    code: str
    name: str
    tasks: Sequence[BenchTask]
    units: Sequence[BenchUnit]


@dataclass(frozen=True, slots=True)
class BenchSheet:
    """One site's bench on one day."""

    site: Site
    on: dt.date
    closed: str | None
    """Why the site is closed today; None where it is open."""
    kinds: Sequence[BenchKind]

    @property
    def touches(self) -> Iterator[Touch]:
        """Every place to mark."""
        return (touch for kind in self.kinds for unit in kind.units for touch in unit.touches)

    def touch(self, property_number: str, task: str) -> Touch | None:
        """The place of one unit and task; None where there is none today."""
        wanted = (property_number, task)
        found = (one for one in self.touches if (one.property_number, one.task) == wanted)
        return next(found, None)

    @property
    def shared_cautions(self) -> Sequence[str]:
        """What every task that is open warns of; it need not be read once a task."""
        tasks = [task for kind in self.kinds for task in kind.tasks]
        if len(tasks) < _LEAST_SHARING:
            return ()
        return [c for c in tasks[0].rule.cautions if all(c in t.rule.cautions for t in tasks)]

    @property
    def open_count(self) -> int:
        """How many places are still to be marked."""
        return sum(touch.is_open for touch in self.touches)


def bench_sheet(
    record: Record,
    public_holidays: PublicHolidays,
    site: Site,
    rows: Iterable[StatusRow],
    now: dt.datetime,
    salt: str,
) -> BenchSheet:
    """What a bench shows; rows: of the site's units today. salt: of whoever marks, for the keys."""
    register, on = record.register(), day_at(site, now)
    rows_of: dict[str, list[StatusRow]] = defaultdict(list)
    for row in rows:
        if row.state not in ("retired", "not in service yet"):
            rows_of[row.property_number].append(row)
    ids = record.unit_ids()
    numbers = [ids[number] for number in rows_of]
    recent = _recent(record.entries(numbers, stored_after=now - _LOOKED_BACK), on)
    laid = _Laid(record, register, on, salt, recent)
    units = [laid.unit(number, some) for number, some in rows_of.items()]
    calendar = CalendarMaker(register, record.holiday_years(), public_holidays).calendar(
        site, on.year - 1, on.year + 1
    )
    why = calendar.why_closed(on)
    return BenchSheet(site, on, None if why is None else why.reason, laid.kinds(units))


_Recent = Mapping[tuple[str, str], Sequence[StoredEntry]]


def _recent(entries: Iterable[StoredEntry], on: dt.date) -> _Recent:
    """What was stored lately of today, by unit and task."""
    found: dict[tuple[str, str], list[StoredEntry]] = defaultdict(list)
    for stored in entries:
        entry = stored.entry
        if entry.on <= on <= (entry.to_on or entry.on):
            found[entry.property_number, entry.task].append(stored)
    return found


@dataclass(frozen=True, slots=True)
class _Laid:
    """Lays out one site's rows."""

    record: Record
    register: Register
    on: dt.date
    salt: str
    recent: _Recent

    def unit(self, number: str, rows: Sequence[StatusRow]) -> BenchUnit:
        unit = self.register.units[(number,)]
        outage = outage_on(self.register, unit, self.on)
        versions = book_of(self.register).kinds[unit.kind].tasks(unit.model)
        owed = {a.task for a in unpassed(self.record, unit)} if outage is not None else set()
        touches = []
        for row in rows:
            rule = rule_on(versions.get(row.task, ()), self.on)
            if rule is None or rule.vendor or (outage is not None and row.task not in owed):
                continue
            touch = self._touch(row, rule, is_owed=row.task in owed)
            if touch.is_open or touch.marks or row.state == "done":
                touches.append(touch)
        return BenchUnit(unit, outage, touches)

    def _touch(self, row: StatusRow, rule: Rule, *, is_owed: bool) -> Touch:
        stored = self.recent.get((row.property_number, row.task), ())
        struck = {one.entry.strikes for one in stored if one.entry.strikes}
        marks = [_marked(s) for s in stored if s.entry.mark and s.entry.key not in struck]
        name = f"{self.salt}/{row.property_number}/{row.task}/{self.on}/{len(stored)}"
        return Touch(
            property_number=row.property_number,
            task=row.task,
            rule=rule,
            on=self.on,
            key=str(uuid.uuid5(_NAMES, name)),
            is_open=is_owed or self._is_open(row, rule),
            is_late=row.state == "overdue",
            missed=row.missed or 0,
            limit=row.limit,
            marks=marks,
        )

    def _is_open(self, row: StatusRow, rule: Rule) -> bool:
        if row.state not in ("due", "overdue"):
            return False
        if rule.basis is not Basis.CELL:
            return True
        return row.opens is not None and row.limit is not None and row.opens <= self.on <= row.limit

    def kinds(self, units: Iterable[BenchUnit]) -> list[BenchKind]:
        by_kind: dict[str, list[BenchUnit]] = defaultdict(list)
        for unit in units:
            if unit.touches or unit.outage is not None:
                by_kind[unit.unit.kind].append(unit)
        book = book_of(self.register)
        made = [
            BenchKind(code, book.kinds[code].name, list(_tasks(some)), some)
            for code, some in by_kind.items()
        ]
        return sorted(made, key=lambda kind: kind.name)


def _tasks(units: Iterable[BenchUnit]) -> Iterator[BenchTask]:
    """Every task that is open at some units, once; a model's own version stands for itself."""
    seen: set[tuple[str, str]] = set()
    for unit in units:
        for touch in unit.touches:
            name = (touch.task, touch.rule.title)
            if touch.is_open and name not in seen:
                seen.add(name)
                yield BenchTask(touch.task, touch.rule)


def _marked(stored: StoredEntry) -> Marked:
    entry = stored.entry
    if entry.mark is None:
        raise ValueError("a strike marks nothing")
    return Marked(
        entry.key,
        entry.mark,
        entry.initials,
        entry.reading,
        stored.by,
        stored.stored_at,
        entry.note,
    )
