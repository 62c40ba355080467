"""Which cells of the charts are gaps, and what would fill them (design 4.5, 4.7)?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fleet.domain.answers import FindingRow
from fleet.domain.records import Entry
from fleet.services.due import Sheet
from fleet.services.finding_words import gap_words
from fleet.services.ports import Record
from schedules.audit import stood
from schedules.calendars import CalendarIndex
from schedules.cells import gaps, in_force
from schedules.dates import date_of, day_of
from schedules.rules import Each, Rule
from schedules.units import Places

__all__ = ["gap_rows"]

_PERIOD_DAYS = {
    Each.OPEN_DAY: 1,
    Each.WEEK: 7,
    Each.MONTH: 31,
    Each.QUARTER: 92,
    Each.HALF_YEAR: 184,
    Each.YEAR: 366,
}


@dataclass(frozen=True, slots=True)
class _Gap:
    """One gap: the unit's place, its site's, the cell, and how many marks it has of how many."""

    unit: int
    site: int
    task: str
    period: tuple[dt.date, dt.date]
    opens_on: dt.date
    closes_on: dt.date
    marks: tuple[int, int]


def gap_rows(
    record: Record, sheet: Sheet, from_on: dt.date, to_on: dt.date, tasks: Sequence[str]
) -> Iterator[FindingRow]:
    """The gaps whose cells closed within the span, both ends included, and before the sheet's day.

    tasks: only these, whatever their case; all where it is empty. Entries are read only of cells
    that have some of their marks.
    """
    first, until = day_of(from_on), min(day_of(to_on), day_of(sheet.on) - 1)
    duties = sheet.fleet.duties
    wanted = {task.casefold() for task in tasks}
    charts = [
        number
        for number, versions in enumerate(duties.versions)
        if not wanted or sheet.fleet.tasks[number].casefold() in wanted
        if any(rule.each for rule in versions)
    ]
    if until < first or not charts:
        return
    reach = max(_PERIOD_DAYS[r.each] for n in charts for r in duties.versions[n] if r.each)
    index = sheet.fleet.index(date_of(first - reach), date_of(until + reach))
    for number in charts:
        found = list(_gaps(sheet, index, number, first, until))
        keys = _partial_keys(record, sheet, index, [gap for gap in found if gap.marks[0]])
        for gap in found:
            yield _gap_row(sheet, gap, keys.get((gap.unit, gap.period[0])))


def _gaps(
    sheet: Sheet, index: CalendarIndex, number: int, first: int, until: int
) -> Iterator[_Gap]:
    """The gaps of all units of one task's versions."""
    duties, columns = sheet.fleet.duties, sheet.fleet.columns
    rows, versions = duties.rows(number), duties.versions[number]
    unit_of_row: Places = duties.unit[rows]
    times = any(rule.times > 1 for rule in versions)
    for found in gaps(
        versions,
        columns,
        unit_of_row,
        index,
        sheet.marks,
        rows.start,
        first,
        until,
        day_of(sheet.on),
    ):
        units = unit_of_row[found.rows]
        cells = zip(
            found.rows.tolist(),
            units.tolist(),
            stood(columns, units, found.closes).tolist(),
            *(days.tolist() for days in (found.from_days, found.to_days)),
            *(days.tolist() for days in (found.opens, found.closes)),
            strict=True,
        )
        for row, unit, site, start, end, opens, closes in cells:
            marks = _marks(sheet, versions, rows.start + row, start, end) if times else (0, 1)
            yield _Gap(
                unit,
                site,
                sheet.fleet.tasks[number],
                (date_of(start), date_of(end)),
                date_of(opens),
                date_of(closes),
                marks,
            )


def _marks(
    sheet: Sheet, versions: Sequence[Rule], row: int, start: int, end: int
) -> tuple[int, int]:
    """How many marks a cell has, and how many its rule asks for."""
    rule = in_force(versions, start)
    counts = sheet.marks.counts(row, 1, start, end - start + 1, day_of(sheet.on))
    return int(np.sum(counts)), rule.times if rule else 1


def _partial_keys(
    record: Record, sheet: Sheet, index: CalendarIndex, partial: Sequence[_Gap]
) -> dict[tuple[int, dt.date], str]:
    """The keys of the entries of cells that have some marks, but not all, by unit and period."""
    if not partial:
        return {}
    ids = record.unit_ids()
    places = {sheet.fleet.units[gap.unit].property_number: gap.unit for gap in partial}
    chosen = [ids[number] for number in places]
    known = [
        line
        for line in record.entries(chosen, partial[0].task)
        if sheet.known_at is None or line.known_at <= sheet.known_at
    ]
    struck = {line.entry.strikes for line in known if line.entry.strikes}
    own: dict[int, list[Entry]] = defaultdict(list)
    for line in known:
        if line.entry.mark is not None and line.entry.key not in struck:
            own[places[line.entry.property_number]].append(line.entry)
    return {
        (gap.unit, gap.period[0]): "; ".join(
            entry.key for entry in own[gap.unit] if _fills(entry, gap, sheet, index)
        )
        for gap in partial
    }


def _fills(entry: Entry, gap: _Gap, sheet: Sheet, index: CalendarIndex) -> bool:
    """Say whether an entry speaks of the cell: of a day of its period, or as a span of expected
    days.
    """
    from_on, to_on = max(entry.on, gap.period[0]), min(entry.to_on or entry.on, gap.period[1])
    to_on = min(to_on, sheet.on)
    if to_on < from_on or entry.to_on in (None, entry.on):
        return from_on <= to_on
    unit, days = np.array([gap.unit]), (to_on - from_on).days + 1
    return bool(sheet.fleet.columns.expected(index, unit, day_of(from_on), days).any())


def _gap_row(sheet: Sheet, gap: _Gap, entries: str | None) -> FindingRow:
    site, unit = sheet.fleet.sites[gap.site], sheet.fleet.units[gap.unit]
    return FindingRow(
        site.site,
        site.county,
        site.region,
        unit.property_number,
        unit.kind,
        gap.task,
        "gap",
        *gap.period,
        gap.opens_on,
        gap.closes_on,
        None,
        entries,
        gap_words(unit.property_number, gap.task, gap.period, gap.closes_on, gap.marks),
    )
