"""What would a change of a site bring: days that open or close, dates that move, findings?

It is made, looked at and not kept: what is told comes of the same acts that would keep it, and the
program's answers before and after are compared.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fleet.domain.answers import FindingRow, StatusRow
from fleet.domain.records import RegisterRecord, Site, Unit
from fleet.domain.register import Change
from fleet.services.calendars import CalendarMaker
from fleet.services.due import answer_sheet, sheets
from fleet.services.findings import finding_rows
from fleet.services.narrow import units_let_through
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.questions import Narrow, Question
from fleet.services.register_changes import change_register, ever_at
from fleet.services.standing import day_at

__all__ = ["YEARS_AHEAD", "DayChange", "DueChange", "Effects", "effects_of"]

YEARS_AHEAD: Final = 2
"""Days are compared to the end of so many years after this one."""
_ONE_DAY: Final = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class DayChange:
    """A day on which a site is open or closed by the change, or closed for another reason."""

    on: dt.date
    before: str
    """Why it was closed; '' where it was open."""
    after: str

    @property
    def opens(self) -> bool:
        """Say whether it was closed and is open."""
        return not self.after

    @property
    def closes(self) -> bool:
        """Say whether it was open and is closed."""
        return not self.before


@dataclass(frozen=True, slots=True)
class DueChange:
    """A duty that is due on another day; None where it has no due date."""

    property_number: str
    task: str
    before_on: dt.date | None
    after_on: dt.date | None


@dataclass(frozen=True, slots=True)
class Effects:
    """What a change brings, beyond its own words."""

    changes: Sequence[Change]
    days: Sequence[DayChange] = ()
    """From the first day that the site's units have a record, `YEARS_AHEAD` years ahead."""
    dues: Sequence[DueChange] = ()
    findings: Sequence[FindingRow] = ()
    """What the audit of the site would report and does not now."""
    settled: Sequence[FindingRow] = ()
    """What it reports now and would not any more."""

    @property
    def are_none(self) -> bool:
        """Say whether nothing changes but the words themselves."""
        return not (self.days or self.dues or self.findings or self.settled)


@dataclass(frozen=True, slots=True)
class _Picture:
    """How a site stands: why it is closed on each day ('' where it is open), duties, findings."""

    closed: Mapping[dt.date, str]
    dues: Mapping[tuple[str, str], StatusRow]
    findings: Sequence[FindingRow]


def effects_of(
    record: Record,
    public_holidays: PublicHolidays,
    act: str,
    site: Site,
    records: Sequence[RegisterRecord],
    stamp: Stamp,
    *,
    withdrawn: Sequence[RegisterRecord] = (),
) -> Effects:
    """Make a change of what belongs to one site, and tell what it brings.

    The unit of work holds the change then: whoever only looks does not commit. Raises BadInput as
    `change_register` does.
    """
    before = _picture(record, public_holidays, site, stamp.at)
    changes = change_register(record, public_holidays, act, records, stamp, withdrawn=withdrawn)
    if not changes:
        return Effects(changes)
    present = record.register().sites[site.key]
    after = _picture(record, public_holidays, present, stamp.at)
    return Effects(
        changes=changes,
        days=[
            DayChange(on, before.closed[on], why)
            for on, why in after.closed.items()
            if before.closed.get(on, why) != why
        ],
        dues=list(_moved(before.dues, after.dues)),
        findings=_without(after.findings, before.findings),
        settled=_without(before.findings, after.findings),
    )


def _picture(
    record: Record, public_holidays: PublicHolidays, site: Site, now: dt.datetime
) -> _Picture:
    register, today = record.register(), day_at(site, now)
    numbers = ever_at(register, site.site)
    since_on = min(
        (_first_day(unit) for unit in register.units.values() if unit.property_number in numbers),
        default=today,
    )
    last_on = dt.date(today.year + YEARS_AHEAD, 12, 31)
    maker = CalendarMaker(register, record.holiday_years(), public_holidays)
    calendar = maker.calendar(site, since_on.year, last_on.year)
    days = (since_on + _ONE_DAY * n for n in range((last_on - since_on).days + 1))
    question = Question(now=now, narrow=Narrow(sites=(site.site,)))
    return _Picture(
        {on: closed.reason if (closed := calendar.why_closed(on)) else "" for on in days},
        _dues(record, public_holidays, question),
        finding_rows(record, public_holidays, since_on, today, question),
    )


def _first_day(unit: Unit) -> dt.date:
    return unit.record_from_on or unit.in_service_on


def _dues(
    record: Record, public_holidays: PublicHolidays, question: Question
) -> dict[tuple[str, str], StatusRow]:
    units = units_let_through(record.register(), question.narrow)
    rows = (
        row
        for sheet in sheets(record, public_holidays, question, units)
        for row in answer_sheet(sheet)[0].values()
    )
    return {(row.property_number, row.task): row for row in rows}


def _moved(
    before: Mapping[tuple[str, str], StatusRow], after: Mapping[tuple[str, str], StatusRow]
) -> Iterator[DueChange]:
    for name, row in after.items():
        old = before[name].due if name in before else None
        if old != row.due:
            yield DueChange(*name, old, row.due)


def _without(some: Sequence[FindingRow], others: Sequence[FindingRow]) -> list[FindingRow]:
    known = {_name(row) for row in others}
    return [row for row in some if _name(row) not in known]


def _name(row: FindingRow) -> tuple[object, ...]:
    """What makes a finding the same one, wherever its site is counted and whenever it closes."""
    words = row.settle if row.finding == "backdated" else ""
    named = (row.finding, row.property_number, row.task, row.period_from, row.on, row.entries)
    return (*named, words)
