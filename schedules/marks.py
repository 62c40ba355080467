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

Bits = npt.NDArray[np.uint8]


def year_of(days: Days) -> npt.NDArray[np.int32]:
    """The calendar year of each day; int32."""
    table = month_table()
    return table.month.take(days - table.first_day).astype(np.int32) // 12 + 1900


def _first_days(years: npt.NDArray[np.int32]) -> Days:
    return month_table().first_of.take((years - 1900) * 12)


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
        years = year_of(days)
        groups, group_of = np.unique(rows * 10_000 + years, return_inverse=True)
        years_found = (groups % 10_000).astype(np.int32)
        place = group_of * DAYS_OF_YEAR + (days - _first_days(years))
        size = len(groups) * DAYS_OF_YEAR
        counts = np.minimum(np.bincount(place, minlength=size), _MOST).astype(np.uint8)
        counts = counts.reshape(-1, DAYS_OF_YEAR)
        done = np.zeros(size, dtype=np.bool_)
        done[place[is_done]] = True
        repeated = np.flatnonzero((counts > 1).any(axis=1))
        return cls(
            rows=groups // 10_000,
            years=years_found,
            marked=np.packbits(counts > 0, axis=1),
            done=np.packbits(done.reshape(-1, DAYS_OF_YEAR), axis=1),
            extra={int(group): counts[group] for group in repeated},
        )

    def counts(self, first_row: int, rows: int, first_day: int, days: int, on: int) -> Bits:
        """How many marks not after `on` each day has; uint8 (rows, days), 255 at most.

        Rows from `first_row` on, day d at place d - first_day.
        """
        counts = np.zeros((rows, days), dtype=np.uint8)
        low, high = np.searchsorted(self.rows, [first_row, first_row + rows])
        ends = min(first_day + days, on + 1)
        for year in np.unique(self.years[low:high]).tolist():
            begins, after = _first_days(np.array([year, year + 1], dtype=np.int32)).tolist()
            start, stop = max(begins, first_day), min(after, ends)
            if start >= stop:
                continue
            places = low + np.flatnonzero(self.years[low:high] == year)
            some = np.unpackbits(self.marked[places], axis=1)
            for turn, place in enumerate(places.tolist()):
                if self.extra and place in self.extra:
                    some[turn, :DAYS_OF_YEAR] = self.extra[place]
            target = (self.rows[places] - first_row)[:, None]
            within = np.arange(start, stop)
            counts[target, within - first_day] = some[:, start - begins : stop - begins]
        return counts

    def last_done(self, rows: int, on: int) -> Days:
        """The latest done day not after `on` of each row; int32, NEVER where there is none."""
        latest = np.full(rows, NEVER, dtype=np.int32)
        begins = _first_days(self.years)
        bits = np.unpackbits(self.done, axis=1)[:, :DAYS_OF_YEAR]
        for place in np.flatnonzero(begins + DAYS_OF_YEAR > on):
            bits[place, max(0, on + 1 - int(begins[place])) :] = 0
        has_any = bits.any(axis=1)
        last = DAYS_OF_YEAR - 1 - np.argmax(bits[:, ::-1], axis=1)
        days = np.where(has_any, begins + last, NEVER).astype(np.int32)
        np.maximum.at(latest, self.rows, days)
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
