"""Which days of a unit × task carry marks, and which of them say done?

Kept a calendar year at a time as bits, so that a fleet's years are read without its history: day d
of the year (0 is 1 January) is bit d, the first day the highest bit of the first byte.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from schedules.dates import NEVER, Days, Mask, month_table
from schedules.units import Places

__all__ = ["DAYS_OF_YEAR", "YEAR_BYTES", "MarkedYears", "year_of"]

DAYS_OF_YEAR = 366
YEAR_BYTES = 46
"""Bytes of one year's bits."""
_MOST = 255
_SPARSE = 16
"""A grid of so many days a mark is still filled whole, which is quicker than sorting the marks."""

Bits = npt.NDArray[np.uint8]
_LAST_BIT = np.array([max((b for b in range(8) if n >> 7 - b & 1), default=0) for n in range(256)])
"""The last set bit of a byte, the highest being bit 0."""


def year_of(days: Days) -> npt.NDArray[np.int32]:
    """The calendar year of each day; int32."""
    table = month_table()
    return table.month.take(days - table.first_day).astype(np.int32) // 12 + 1900


def _first_days(years: npt.NDArray[np.int32]) -> Days:
    return month_table().first_of.take((years - 1900) * 12)


def _places(rows: Places, days: Days) -> tuple[Places, Places]:
    """The row × years that marks may fall in, as row × 10,000 + year, and each mark's place.

    The place counts days, DAYS_OF_YEAR for each row × year. Where few of a plain grid of rows and
    years would be used, it is cut down to those that are.
    """
    first_year, last_year = year_of(np.array([days.min(), days.max()], dtype=np.int32)).tolist()
    begins, ends = _first_days(np.array([first_year, last_year + 1], dtype=np.int32)).tolist()
    calendar = np.arange(begins, ends, dtype=np.int32)
    year = year_of(calendar)
    day_of_span = (year - first_year) * DAYS_OF_YEAR + (calendar - _first_days(year))
    day = day_of_span.take(np.subtract(days, np.int32(begins), dtype=np.int64))
    years, first_row, last_row = last_year - first_year + 1, int(rows.min()), int(rows.max())
    if (last_row - first_row + 1) * years * DAYS_OF_YEAR > _SPARSE * len(rows) + 1_000_000:
        keys, group = np.unique(rows * years + day // DAYS_OF_YEAR, return_inverse=True)
        groups = keys // years * 10_000 + (first_year + keys % years)
        return groups, group * DAYS_OF_YEAR + day % DAYS_OF_YEAR
    grid = np.arange(first_row, last_row + 1)[:, None] * 10_000 + np.arange(years) + first_year
    place = rows - first_row
    place *= years * DAYS_OF_YEAR
    place += day
    return grid.reshape(-1), place


@dataclass(frozen=True, slots=True)
class MarkedYears:
    """Marked days of many rows, a place a row × year, rows ascending.

    rows: what the caller counts, a unit × task; years int32; marked and done: uint8 of shape
    (places, YEAR_BYTES). extra: for places where a day has more than one mark, the number of marks
    of each day (uint8, 366 places, 255 at most).
    """

    rows: Places
    years: npt.NDArray[np.int32]
    marked: Bits
    done: Bits
    extra: Mapping[int, Bits]

    @classmethod
    def pack(cls, rows: Places, days: Days, is_done: Mask) -> MarkedYears:
        """Pack single marks, in any order, into years."""
        if not rows.size:
            no_bits = np.zeros((0, YEAR_BYTES), dtype=np.uint8)
            return cls(rows, np.zeros(0, dtype=np.int32), no_bits, no_bits, {})
        groups, place = _places(rows, days)
        says: Bits = np.zeros(len(groups) * DAYS_OF_YEAR, dtype=np.uint8)
        says[place] = is_done.view(np.uint8) + np.uint8(1)
        counts = None
        if np.count_nonzero(says) < len(place):
            says[place[is_done]] = 2
            counts = np.bincount(place, minlength=says.size).reshape(-1, DAYS_OF_YEAR)
        says = says.reshape(-1, DAYS_OF_YEAR)
        marked = np.packbits(says, axis=1)
        used = np.flatnonzero(marked.any(axis=1))
        repeated = [] if counts is None else np.flatnonzero((counts[used] > 1).any(axis=1)).tolist()
        return cls(
            rows=groups[used] // 10_000,
            years=(groups[used] % 10_000).astype(np.int32),
            marked=marked[used],
            done=np.packbits(says > 1, axis=1)[used],
            extra={
                turn: np.minimum(counts[used[turn]], _MOST).astype(np.uint8)
                for turn in repeated
                if counts is not None
            },
        )

    def counts(self, first_row: int, rows: int, first_day: int, days: int, on: int) -> Bits:
        """The same as `counts_of` for so many rows from `first_row` on."""
        return self.counts_of(np.arange(first_row, first_row + rows), first_day, days, on)

    def counts_of(self, rows: Places, first_day: int, days: int, on: int) -> Bits:
        """How many marks not after `on` each day has; uint8 (len(rows), days), 255 at most.

        rows: ascending; day d stands at place d - first_day.
        """
        counts = np.zeros((len(rows), days), dtype=np.uint8)
        if not rows.size:
            return counts
        low, high = np.searchsorted(self.rows, [rows[0], rows[-1] + 1])
        ends = min(first_day + days, on + 1)
        for year in np.unique(self.years[low:high]).tolist():
            begins, after = _first_days(np.array([year, year + 1], dtype=np.int32)).tolist()
            start, stop = max(begins, first_day), min(after, ends)
            if start >= stop:
                continue
            places = low + np.flatnonzero(self.years[low:high] == year)
            target = np.searchsorted(rows, self.rows[places])
            is_asked = rows[target] == self.rows[places]
            places, target = places[is_asked], target[is_asked]
            some = self._days(places, start - begins, stop - begins)
            within = slice(start - first_day, stop - first_day)
            if len(target) == len(rows):
                counts[:, within] = some
            else:
                counts[target, within] = some
        return counts

    def _days(self, places: Places, start: int, stop: int) -> Bits:
        """The marks of each day of the year from one to before another, for some places."""
        first_byte = start // 8
        packed = self.marked.take(places, axis=0)[:, first_byte : -(-stop // 8)]
        days = np.unpackbits(packed, axis=1)[:, start - first_byte * 8 : stop - first_byte * 8]
        if self.extra:
            for turn, place in enumerate(places.tolist()):
                if place in self.extra:
                    days[turn] = self.extra[place][start:stop]
        return days

    def last_done(self, rows: int, on: int) -> Days:
        """The latest done day not after `on` of each row; int32, NEVER where there is none."""
        latest = np.full(rows, NEVER, dtype=np.int32)
        this_year = int(year_of(np.array([on], dtype=np.int32))[0])
        until = np.arange(YEAR_BYTES * 8) <= on - _first_days(np.array([this_year]))
        for year in np.unique(self.years[self.years <= this_year]).tolist():
            places = np.flatnonzero(self.years == year)
            done = self.done.take(places, axis=0)
            if year == this_year:
                done &= np.packbits(until)
            last_byte = YEAR_BYTES - 1 - (done[:, ::-1] != 0).argmax(axis=1)
            byte = done[np.arange(len(done)), last_byte]
            some = np.flatnonzero(byte)
            day = last_byte[some] * 8 + _LAST_BIT.take(byte[some])
            latest[self.rows[places[some]]] = day + _first_days(np.array([year]))
        return latest

    def done_days(self, first_row: int, rows: int) -> tuple[Places, Days]:
        """All done days of some rows: row, counted from `first_row`, and day; both ascend."""
        low, high = np.searchsorted(self.rows, [first_row, first_row + rows])
        bits = np.unpackbits(self.done[low:high], axis=1)
        place, day = np.nonzero(bits)
        days = (_first_days(self.years[low:high])[place] + day).astype(np.int32)
        row = self.rows[low:high][place] - first_row
        order = np.lexsort((days, row))
        return row[order], days[order]
