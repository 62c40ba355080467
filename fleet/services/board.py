"""How does the whole fleet stand now, without asking anew what has not changed?

A process keeps the rows of today, unit by unit. Each question looks whether the register, the day
at some site or what is kept of some units is another than then, and answers those units anew.
"""

from __future__ import annotations

import datetime as dt
import threading
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import NamedTuple

from fleet.domain.answers import StatusRow
from fleet.domain.records import Unit
from fleet.domain.register import Register
from fleet.services.due import answer_sheet, sheets
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Question
from fleet.services.standing import day_at

__all__ = ["Board", "BoardView"]


@dataclass(frozen=True, slots=True)
class BoardView:
    """The fleet today at each site, as one moment of the store has it."""

    rows: Sequence[StatusRow]
    """In the order of `due`: by site and unit."""
    failures: Sequence[str]
    version: str
    """Another word whenever the answer may be another."""
    by_site: Mapping[str, Sequence[StatusRow]]
    register_version: str
    ticks: Mapping[str, int]
    """By site: another number whenever what is kept of a unit there was replaced."""

    def of_site(self, site: str) -> Sequence[StatusRow]:
        """The rows of the units that stand at a site today."""
        return self.by_site.get(site, ())


class _Seen(NamedTuple):
    """Under what the rows were answered."""

    register: str
    days: tuple[dt.date, ...]
    tick: int


class _Answer(NamedTuple):
    rows: Sequence[StatusRow]
    failures: Sequence[str]


class Board:
    """The kept rows of one process; many threads ask it."""

    def __init__(self, public_holidays: PublicHolidays) -> None:
        self._public_holidays = public_holidays
        self._lock = threading.Lock()
        self._seen: _Seen | None = None
        self._answers: dict[str, _Answer] = {}
        self._ticks: defaultdict[str, int] = defaultdict(int)
        self._view: BoardView | None = None

    def view(self, record: Record, now: dt.datetime) -> BoardView:
        """The fleet as the record has it; the same object as long as nothing changed."""
        register = record.register()
        days = tuple(day_at(site, now) for site in register.sites.values())
        version = record.register_version()
        with self._lock:
            seen = self._seen
            is_other = seen is None or (seen.register, seen.days) != (version, days)
            tick, ids = record.kept_since(0 if seen is None or is_other else seen.tick)
            if seen is not None and not is_other and tick < seen.tick:
                # A reader whose moment lies before what another has answered already.
                return self._made_anew(record, register, now, _Seen(version, days, tick))
            if is_other:
                self._answers = self._answered(record, None, now)
                self._ticks = defaultdict(lambda: tick)
            elif ids:
                self._answer_again(record, ids, now, tick)
            if self._view is None or is_other or ids:
                self._view = _laid(self._answers, _Seen(version, days, tick), self._ticks)
            self._seen = _Seen(version, days, tick)
            return self._view

    def _answer_again(
        self, record: Record, ids: Sequence[int], now: dt.datetime, tick: int
    ) -> None:
        numbers = {unit_id: number for number, unit_id in record.unit_ids().items()}
        units = [record.register().units[(numbers[i],)] for i in ids]
        answered = self._answered(record, units, now)
        for unit in units:
            for row in answered[unit.property_number].rows:
                self._ticks[row.site] = tick
        self._answers |= answered

    def _made_anew(
        self, record: Record, register: Register, now: dt.datetime, seen: _Seen
    ) -> BoardView:
        answers = self._answered(record, None, now)
        return _laid(answers, seen, defaultdict(lambda: seen.tick))

    def _answered(
        self, record: Record, units: Iterable[Unit] | None, now: dt.datetime
    ) -> dict[str, _Answer]:
        """The rows and failures of some units (None: all), by property number."""
        rows: dict[str, list[StatusRow]] = defaultdict(list)
        failures: dict[str, list[str]] = defaultdict(list)
        asked = list(record.register().units.values()) if units is None else list(units)
        question = Question(now=now)
        given = None if units is None else asked
        for sheet in sheets(record, self._public_holidays, question, given):
            answered, failed = answer_sheet(sheet)
            for row in answered.values():
                rows[row.property_number].append(row)
            units_of = sheet.fleet.duties.unit
            for duty, words in failed.items():
                failures[sheet.fleet.units[units_of[duty]].property_number].append(words)
        numbers = (unit.property_number for unit in asked)
        return {n: _Answer(tuple(rows[n]), tuple(failures[n])) for n in numbers}


def _laid(answers: Mapping[str, _Answer], seen: _Seen, ticks: defaultdict[str, int]) -> BoardView:
    """Lay units' answers out as `due` does."""
    rows = [row for answer in answers.values() for row in answer.rows]
    rows.sort(key=attrgetter("site", "property_number"))
    by_site: dict[str, list[StatusRow]] = defaultdict(list)
    for row in rows:
        by_site[row.site].append(row)
    failures = [words for answer in answers.values() for words in answer.failures]
    days = max(seen.days, default=dt.date.min), min(seen.days, default=dt.date.min)
    version = f"{seen.register[:16]}-{seen.tick}-{days[0]}-{days[1]}"
    own = {site: ticks[site] for site in by_site}
    return BoardView(rows, failures, version, by_site, seen.register, own)
