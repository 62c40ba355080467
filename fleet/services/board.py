"""How does the whole fleet stand now, without asking anew what has not changed?

A process keeps the rows of today, unit by unit. Each question looks whether the register, the day
at some site or what is kept of some units is another than then, and answers those units anew.
"""

from __future__ import annotations

import datetime as dt
import threading
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter
from typing import NamedTuple

from fleet.domain.answers import StatusRow
from fleet.domain.records import Unit
from fleet.services.due import answer_sheet, sheets
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Question
from fleet.services.standing import day_at, site_of, today_of

__all__ = ["Board", "BoardView"]


@dataclass(frozen=True)
class BoardView:
    """The fleet today at each site, as one moment of the store has it."""

    by_site: Mapping[str, Sequence[StatusRow]]
    """In the order of units, by the site where they stand."""
    failures_of: Mapping[str, Sequence[str]]
    """By property number, of units that have no answer."""
    register_version: str
    ticks: Mapping[str, int]
    """By site: another number whenever what is kept of a unit there was replaced."""
    version: str
    """Another word whenever the answer may be another."""

    @cached_property
    def rows(self) -> Sequence[StatusRow]:
        """All rows in the order of `due`: by site and unit."""
        return [row for _, rows in sorted(self.by_site.items()) for row in rows]

    @property
    def failures(self) -> Sequence[str]:
        """Why units have no answer, in sentences."""
        return [words for some in self.failures_of.values() for words in some]

    def of_site(self, site: str) -> Sequence[StatusRow]:
        """The rows of the units that stand at a site today."""
        return self.by_site.get(site, ())


class _Seen(NamedTuple):
    """Under what the rows were answered."""

    register: str
    days: tuple[dt.date, ...]
    tick: int

    @property
    def version(self) -> str:
        days = f"{max(self.days, default='')}-{min(self.days, default='')}"
        return f"{self.register[:16]}-{self.tick}-{days}"


class Board:
    """The kept rows of one process; many threads ask it."""

    def __init__(self, public_holidays: PublicHolidays) -> None:
        self._public_holidays = public_holidays
        self._lock = threading.Lock()
        self._kept: tuple[_Seen, BoardView] | None = None

    def view(self, record: Record, now: dt.datetime) -> BoardView:
        """The fleet as the record has it; the same object as long as nothing changed."""
        days = tuple(day_at(site, now) for site in record.register().sites.values())
        version = record.register_version()
        with self._lock:
            kept = self._kept
            is_other = kept is None or (kept[0].register, kept[0].days) != (version, days)
            tick, ids = record.kept_since(0 if kept is None or is_other else kept[0].tick)
            seen = _Seen(version, days, tick)
            if kept is None or is_other:
                self._kept = seen, self._whole(record, seen, now)
            elif tick < kept[0].tick:
                # A reader whose moment lies before what another has answered already.
                return self._whole(record, seen, now)
            elif ids:
                self._kept = seen, self._changed(record, kept[1], ids, seen, now)
            return self._kept[1]  # type: ignore[index]

    def _whole(self, record: Record, seen: _Seen, now: dt.datetime) -> BoardView:
        rows, failures = self._answered(record, None, now)
        ticks = dict.fromkeys(rows, seen.tick)
        return BoardView(rows, failures, seen.register, ticks, seen.version)

    def _changed(
        self, record: Record, view: BoardView, ids: Sequence[int], seen: _Seen, now: dt.datetime
    ) -> BoardView:
        """The view with some units answered anew; they stand where they stood, or days differ."""
        numbers = {unit_id: number for number, unit_id in record.unit_ids().items()}
        units = [record.register().units[(numbers[i],)] for i in ids]
        names = {unit.property_number for unit in units}
        fresh, failures = self._answered(record, units, now)
        rows = dict(view.by_site)
        register = record.register()
        stands = {site_of(register, one, today_of(register, one, now)) for one in units}
        for site in stands:
            left = [row for row in rows.get(site, ()) if row.property_number not in names]
            rows[site] = sorted([*left, *fresh.get(site, ())], key=attrgetter("property_number"))
        kept = {name: some for name, some in view.failures_of.items() if name not in names}
        ticks = {**view.ticks, **dict.fromkeys(stands, seen.tick)}
        return BoardView(rows, kept | failures, seen.register, ticks, seen.version)

    def _answered(
        self, record: Record, units: Sequence[Unit] | None, now: dt.datetime
    ) -> tuple[dict[str, list[StatusRow]], dict[str, list[str]]]:
        """The rows of some units (None: all) by site, and why others have none, by unit."""
        rows: dict[str, list[StatusRow]] = defaultdict(list)
        failures: dict[str, list[str]] = defaultdict(list)
        for sheet in sheets(record, self._public_holidays, Question(now=now), units):
            answered, failed = answer_sheet(sheet)
            for row in answered.values():
                rows[row.site].append(row)
            units_of = sheet.fleet.duties.unit
            for duty, words in failed.items():
                failures[sheet.fleet.units[units_of[duty]].property_number].append(words)
        for some in rows.values():
            some.sort(key=attrgetter("property_number"))
        return dict(rows), dict(failures)
