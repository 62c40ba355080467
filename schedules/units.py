"""When is a unit in service, where does it then stand, and which of its days are expected days?

A fleet as columns, one place a unit. Spans that a unit may have many of (moves, outages) are kept
as runs: those of unit u stand at places `starts[u]` to `starts[u + 1]`, in the order of days.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from schedules.calendars import CalendarIndex
from schedules.dates import FAR, NEVER, Days, Mask

__all__ = [
    "DONE",
    "DUE",
    "NOT_YET",
    "OUT",
    "OVERDUE",
    "RETIRED",
    "STATES",
    "UPCOMING",
    "Places",
    "Runs",
    "UnitColumns",
    "UnitSpan",
]

UPCOMING, DUE, OVERDUE, DONE, OUT, NOT_YET, RETIRED = range(7)
STATES = (
    "upcoming",
    "due",
    "overdue",
    "done",
    "out of service",
    "not in service yet",
    "retired",
)
"""The words of the state codes (design 4.3, 4.5); the last three are the unit's own."""

Places = npt.NDArray[np.int64]
"""Places in another column."""


@dataclass(frozen=True, slots=True)
class UnitSpan:
    """One unit as day numbers; the input of `UnitColumns.build`.

    moves: (day, calendar) after the first placement; outages: (first day, day of return or FAR).
    record_from is the first day the record speaks of, never before in_service. retired is FAR for
    a unit in use.
    """

    in_service: int
    retired: int
    record_from: int
    calendar: int
    moves: tuple[tuple[int, int], ...] = ()
    outages: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Runs:
    """Day numbers in runs, one run a unit, each ascending."""

    starts: Places
    days: Days

    @classmethod
    def build(cls, runs: Sequence[Sequence[int]]) -> Runs:
        """Lay the runs end to end."""
        lengths = np.fromiter((len(run) for run in runs), dtype=np.int64, count=len(runs))
        starts = np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(lengths)])
        flat = np.fromiter((day for run in runs for day in run), dtype=np.int32)
        return cls(starts, flat)

    def counts_until(self, day: int) -> Places:
        """How many of each run's days are not after `day`."""
        before: Places = np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(self.days <= day)])
        counts: Places = before[self.starts[1:]] - before[self.starts[:-1]]
        return counts

    def latest(self, day: int) -> Days:
        """The latest day of each run that is not after `day`; NEVER where there is none."""
        if not self.days.size:
            return np.full(len(self.starts) - 1, NEVER, dtype=np.int32)
        counts = self.counts_until(day)
        found = self.days.take(self.starts[:-1] + counts - 1, mode="clip")
        return np.where(counts > 0, found, np.int32(NEVER)).astype(np.int32)


def _merged(outages: tuple[tuple[int, int], ...]) -> list[tuple[int, int]]:
    """Join outages that touch: back on the day the next begins is not back."""
    joined: list[tuple[int, int]] = []
    for start, end in sorted(outages):
        if joined and joined[-1][1] == start:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined


@dataclass(frozen=True)
class UnitColumns:
    """The units of a fleet; int32 days of length n, runs of moves and outages.

    calendars: the calendar of the site the unit was issued to. outage_from and outage_to are
    places in step: outages that touch are joined. returns: every day of return.
    """

    in_service: Days
    retired: Days
    record_from: Days
    calendars: Places
    moves: Runs
    move_calendars: Places
    outage_from: Runs
    outage_to: Days
    returns: Runs

    @classmethod
    def build(cls, units: Sequence[UnitSpan]) -> UnitColumns:
        """Turn units into columns, in the same order."""
        outages = [_merged(unit.outages) for unit in units]
        ends = [[end for _, end in sorted(unit.outages) if end != FAR] for unit in units]
        return cls(
            in_service=np.array([unit.in_service for unit in units], dtype=np.int32),
            retired=np.array([unit.retired for unit in units], dtype=np.int32),
            record_from=np.array([unit.record_from for unit in units], dtype=np.int32),
            calendars=np.array([unit.calendar for unit in units], dtype=np.int64),
            moves=Runs.build([[day for day, _ in unit.moves] for unit in units]),
            move_calendars=np.array(
                [calendar for unit in units for _, calendar in unit.moves], dtype=np.int64
            ),
            outage_from=Runs.build([[start for start, _ in spans] for spans in outages]),
            outage_to=np.array([end for spans in outages for _, end in spans], dtype=np.int32),
            returns=Runs.build(ends),
        )

    def __len__(self) -> int:
        return len(self.in_service)

    @cached_property
    def has_outages(self) -> Mask:
        """Whether a unit was, is or will be in an outage."""
        has_outages: Mask = np.diff(self.outage_from.starts) > 0
        return has_outages

    def calendars_on(self, day: int) -> Places:
        """The calendar of the site where each unit stands on a day; before all moves its first."""
        if not self.moves.days.size:
            return self.calendars
        counts = self.moves.counts_until(day)
        moved = self.move_calendars.take(self.moves.starts[:-1] + counts - 1, mode="clip")
        return np.where(counts > 0, moved, self.calendars)

    def is_out(self, day: int) -> Mask:
        """Whether each unit is in an outage on a day."""
        if not self.outage_to.size:
            return np.zeros(len(self), dtype=np.bool_)
        counts = self.outage_from.counts_until(day)
        ends = self.outage_to.take(self.outage_from.starts[:-1] + counts - 1, mode="clip")
        return (counts > 0) & (day < ends)

    def standing(self, day: int) -> npt.NDArray[np.int8]:
        """RETIRED, NOT_YET or OUT for each unit on a day; UPCOMING (0) for a unit at work."""
        standing = np.where(self.is_out(day), np.int8(OUT), np.int8(UPCOMING))
        standing[day < self.in_service] = NOT_YET
        standing[day >= self.retired] = RETIRED
        return standing

    def after_outages(self, days: Days, unit_of_row: Places) -> Days:
        """Move each day that lies in an outage of its row's unit to the return (design 4.3 step 4).

        Result int32; FAR where the outage has no end yet.
        """
        return self._leave_outages(days, unit_of_row, to_end=True)

    def before_outages(self, days: Days, unit_of_row: Places) -> Days:
        """Move each day that lies in an outage of its row's unit back to the outage's first day.

        A day `d` comes out of `after_outages` before `x` exactly when `d < before_outages(x)`.
        """
        return self._leave_outages(days, unit_of_row, to_end=False)

    def _leave_outages(self, days: Days, unit_of_row: Places, *, to_end: bool) -> Days:
        moved = days.copy()
        if not self.outage_to.size:
            return moved
        rows = np.flatnonzero(self.has_outages.take(unit_of_row))
        starts_of_run = self.outage_from.starts
        turn = 0
        while rows.size:
            places = starts_of_run.take(unit_of_row[rows]) + turn
            starts, ends = self.outage_from.days.take(places), self.outage_to.take(places)
            day = days[rows]
            inside = (starts <= day) & (day < ends) if to_end else (starts < day) & (day <= ends)
            moved[rows[inside]] = (ends if to_end else starts)[inside]
            turn += 1
            rows = rows[starts_of_run.take(unit_of_row[rows] + 1) > places + 1]
        return moved

    def expected(self, index: CalendarIndex, units: Places, first_day: int, days: int) -> Mask:
        """The expected days of some units: in service, in the record, not out, the site open.

        Result: bool (len(units), days), day d at place d - first_day (design 4.5).
        """
        offset = first_day + int(index.starts[0])
        expected = index.is_open[self.calendars[units], offset : offset + days]
        for row in np.flatnonzero(np.diff(self.moves.starts).take(units)):
            self._stand_elsewhere(expected[row], index, int(units[row]), first_day, offset)
        begins = np.maximum(self.in_service, self.record_from)[units]
        ends = self.retired[units]
        partly = np.flatnonzero((begins > first_day) | (ends < first_day + days))
        numbers = np.arange(first_day, first_day + days, dtype=np.int32)
        expected[partly] &= numbers >= begins[partly, None]
        expected[partly] &= numbers < ends[partly, None]
        for row in np.flatnonzero(np.diff(self.outage_from.starts).take(units)):
            unit = int(units[row])
            for place in range(self.outage_from.starts[unit], self.outage_from.starts[unit + 1]):
                start = max(0, int(self.outage_from.days[place]) - first_day)
                expected[row, start : max(0, int(self.outage_to[place]) - first_day)] = False
        return expected

    def _stand_elsewhere(
        self, expected: Mask, index: CalendarIndex, unit: int, first_day: int, offset: int
    ) -> None:
        for place in range(self.moves.starts[unit], self.moves.starts[unit + 1]):
            start = max(0, int(self.moves.days[place]) - first_day)
            calendar = self.move_calendars[place]
            expected[start:] = index.is_open[calendar, offset + start : offset + len(expected)]
