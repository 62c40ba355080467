"""Which days are marked, as rows that status reads instead of history?

What is kept is worked out from the entries by `rebuild`, in the transaction that wrote them; a
question about an earlier state of knowledge works the same out in memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import repeat

import numpy as np
import numpy.typing as npt

from fleet.services.calendars import CalendarMaker
from fleet.services.columns import FleetColumns, book_of, fleet_columns
from fleet.services.ports import KeptYears, MarkColumns, PublicHolidays, Record
from schedules.dates import Days, date_of
from schedules.marks import YEAR_BYTES, MarkedYears
from schedules.units import Places

__all__ = [
    "duties_of",
    "kept_of",
    "marked_years",
    "rebuild",
    "single_days",
    "unpacked",
    "worked_out",
]

_UNITS_AT_ONCE = 250


def single_days(
    marks: MarkColumns, fleet: FleetColumns, place_of: Mapping[int, int]
) -> tuple[Places, Days]:
    """Spread marks over single days: the mark's place and the day, for each day it speaks of.

    A mark of one day speaks of it whatever the calendar says; a span speaks of the expected days
    of its unit within it (design 7). place_of: unit id to the unit's place in the fleet.
    """
    is_span = marks.to_days > marks.from_days
    ones, spans = np.flatnonzero(~is_span), np.flatnonzero(is_span)
    if not spans.size:
        return ones, marks.from_days[ones]
    first, last = int(marks.from_days[spans].min()), int(marks.to_days[spans].max())
    index = fleet.index(date_of(first), date_of(last))
    places, days = [ones], [marks.from_days[ones]]
    for unit_id in np.unique(marks.unit_ids[spans]).tolist():
        unit = np.array([place_of[unit_id]])
        expected = fleet.columns.expected(index, unit, first, last - first + 1)[0]
        open_days = (np.flatnonzero(expected) + first).astype(np.int32)
        own = spans[marks.unit_ids[spans] == unit_id]
        starts = np.searchsorted(open_days, marks.from_days[own])
        stops = np.searchsorted(open_days, marks.to_days[own], side="right")
        for place, start, stop in zip(own.tolist(), starts, stops, strict=True):
            places.append(np.full(stop - start, place))
            days.append(open_days[start:stop])
    return np.concatenate(places), np.concatenate(days)


def marked_years(
    marks: MarkColumns, fleet: FleetColumns, place_of: Mapping[int, int], rows: Places
) -> MarkedYears:
    """Pack marks into years; rows: the row each mark belongs to, -1 for one to leave out."""
    place, day = single_days(marks, fleet, place_of)
    chosen = rows[place] >= 0
    place, day = place[chosen], day[chosen]
    return MarkedYears.pack(rows[place], day, marks.is_done[place])


def rebuild(record: Record, unit_ids: Sequence[int], public_holidays: PublicHolidays) -> None:
    """Work out again what is kept of these units, from their entries."""
    for batch, years in worked_out(record, unit_ids, public_holidays):
        record.keep(batch, years)


def worked_out(
    record: Record, unit_ids: Sequence[int], public_holidays: PublicHolidays
) -> Iterator[tuple[Sequence[int], KeptYears]]:
    """What is to be kept of these units as their entries add up to it, some units at a time."""
    unit_ids = list(dict.fromkeys(unit_ids))
    register = record.register()
    book = book_of(register)
    calendars = CalendarMaker(register, record.holiday_years(), public_holidays)
    number_of = {unit_id: name for name, unit_id in record.unit_ids().items()}
    for start in range(0, len(unit_ids), _UNITS_AT_ONCE):
        batch = unit_ids[start : start + _UNITS_AT_ONCE]
        units = [register.units[(number_of[unit_id],)] for unit_id in batch]
        fleet = fleet_columns(register, book, calendars, units)
        marks = record.marks(batch)
        place_of = {unit_id: place for place, unit_id in enumerate(batch)}
        width = max(1, len(marks.task_names))
        unit_places = np.array([place_of[i] for i in marks.unit_ids.tolist()], dtype=np.int64)
        years = marked_years(marks, fleet, place_of, unit_places * width + marks.tasks)
        yield batch, kept_of(years, batch, marks.task_names, width)


def kept_of(
    years: MarkedYears, unit_ids: Sequence[int], task_names: Sequence[str], width: int
) -> KeptYears:
    """Marked years as they are stored; rows count unit × task, `width` tasks a unit."""
    rows = years.rows.tolist()
    return KeptYears(
        unit_ids=[unit_ids[row // width] for row in rows],
        tasks=[task_names[row % width] for row in rows],
        years=years.years.tolist(),
        marked=[bits.tobytes() for bits in years.marked],
        done=[bits.tobytes() for bits in years.done],
        extra=[
            years.extra[place].tobytes() if place in years.extra else None
            for place in range(len(rows))
        ],
    )


def duties_of(
    fleet: FleetColumns, unit_ids: Mapping[str, int], ids: Places, tasks: Iterable[str]
) -> Places:
    """The fleet's duty of each unit × task, -1 where it has none.

    unit_ids: property number to the store's number; ids: such numbers; tasks: as many names.
    """
    own = np.array([unit_ids[unit.property_number] for unit in fleet.units], dtype=np.int64)
    place_of_id = np.full(max(own.max(initial=0), ids.max(initial=0)) + 1, -1, dtype=np.int64)
    place_of_id[own] = np.arange(len(own))
    columns = {task: column for column, task in enumerate(dict.fromkeys(fleet.tasks))}
    nowhere = len(columns)
    duties = np.full((len(own) + 1, nowhere + 1), -1, dtype=np.int64)
    for version, task in enumerate(fleet.tasks):
        rows = fleet.duties.rows(version)
        duties[fleet.duties.unit[rows], columns[task]] = np.arange(rows.start, rows.stop)
    task_of_row = np.fromiter(map(columns.get, tasks, repeat(nowhere)), np.int64, count=len(ids))
    found: Places = duties[place_of_id.take(ids), task_of_row]
    return found


def unpacked(kept: KeptYears, fleet: FleetColumns, unit_ids: Mapping[str, int]) -> MarkedYears:
    """Kept years as the marked years of a fleet's duties; what belongs to none is left out."""
    rows = duties_of(fleet, unit_ids, np.array(kept.unit_ids, dtype=np.int64), kept.tasks)
    order = np.argsort(rows, kind="stable")
    order = order[rows[order] >= 0]
    has_extra = any(kept.extra)
    return MarkedYears(
        rows=rows[order],
        years=np.array(kept.years, dtype=np.int32)[order],
        marked=_bits(kept.marked).take(order, axis=0),
        done=_bits(kept.done).take(order, axis=0),
        extra={
            turn: np.frombuffer(counts, dtype=np.uint8)
            for turn, place in enumerate(order.tolist() if has_extra else ())
            if (counts := kept.extra[place]) is not None
        },
    )


def _bits(years: Sequence[bytes]) -> npt.NDArray[np.uint8]:
    return np.frombuffer(b"".join(years), dtype=np.uint8).reshape(-1, YEAR_BYTES)
