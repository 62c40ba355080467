"""How is a fleet of the reference asked of the program, without files or a database?

`BridgedRecord` answers what the use cases read of a record, straight from a `RefFleet`.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np

from fleet.domain.records import (
    Closure,
    Entry,
    Holiday,
    Mark,
    Outage,
    Pattern,
    Placement,
    RegisterRecord,
    Site,
    StoredEntry,
    Unit,
)
from fleet.domain.register import BookText, Change, Register
from fleet.services.ports import ChangeLine, HolidayYear, KeptYears, MarkColumns
from schedules.dates import day_of
from tests.reference.files import rules_text
from tests.reference.records import RefEntry, RefFleet, RefSite, RefUnit

__all__ = ["BridgedRecord", "NoPublicHolidays"]

_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MANUFACTURER = "Invented Works"


class NoPublicHolidays:
    """A place without public holidays; the fleets of the reference state their own."""

    def year(self, country: str, subdivision: str, year: int) -> HolidayYear:
        """No holidays, whatever the year."""
        return HolidayYear(country, subdivision, year, {}, "none")

    def knows(self, country: str, subdivision: str) -> bool:
        """Every place is known."""
        return True


def _week(open_days: tuple[int, ...]) -> str:
    return " ".join(_NAMES[weekday] for weekday in open_days)


def register_of(fleet: RefFleet) -> Register:
    """The same sites, calendars, units and rules as the program's records."""
    text = rules_text(fleet.rules)
    digest = hashlib.sha256(text.encode()).hexdigest()
    return Register(
        sites=_keyed(_site(site) for site in fleet.sites),
        patterns=_keyed(
            Pattern(site=p.site, from_on=p.from_on, open_days=_week(p.open_days))
            for p in fleet.patterns
        ),
        holidays=_keyed(_holidays(fleet)),
        closures=_keyed(
            Closure(site=c.site, from_on=c.from_on, to_on=c.to_on, reason=c.reason, open=c.open)
            for c in fleet.closures
        ),
        units=_keyed(_unit(unit) for unit in fleet.units),
        placements=_keyed(
            Placement(property_number=p.property_number, site=p.site, from_on=p.from_on)
            for p in fleet.placements
        ),
        outages=_keyed(
            Outage(
                property_number=o.property_number, from_on=o.from_on, to_on=o.to_on, reason=o.reason
            )
            for o in fleet.outages
        ),
        book=BookText(text=text, sha256=digest, stored_at=fleet.loaded_at),
    )


def _keyed(records: Iterable[Any]) -> dict[tuple[str, ...], Any]:
    return {record.key: record for record in records}


def _site(site: RefSite) -> Site:
    return Site(
        site=site.site,
        name=f"{site.site} laboratory",
        county=site.county,
        region=site.region,
        country=site.country,
        subdivision=site.subdivision,
        time_zone=site.time_zone,
        open_days=_week(site.open_days),
    )


def _holidays(fleet: RefFleet) -> Iterator[Holiday]:
    places = {site.site: site for site in fleet.sites}
    for holiday in fleet.holidays:
        site = places[holiday.site]
        yield Holiday(
            site=site.site,
            country=site.country,
            subdivision=site.subdivision,
            on=holiday.on,
            name=holiday.name,
        )


def _unit(unit: RefUnit) -> Unit:
    return Unit(
        property_number=unit.property_number,
        kind=unit.kind,
        manufacturer=_MANUFACTURER,
        model=unit.model,
        serial="",
        site=unit.site,
        in_service_on=unit.in_service_on,
        retired_on=unit.retired_on,
        record_from_on=unit.record_from_on,
    )


def _entry(entry: RefEntry) -> Entry:
    return Entry(
        key=entry.key,
        property_number=entry.property_number,
        task=entry.task,
        on=entry.on,
        to_on=entry.to_on,
        mark=Mark(entry.mark) if entry.mark else None,
        recorded_at=entry.recorded_at,
        strikes=entry.strikes,
    )


class BridgedRecord:
    """A record that holds one fleet of the reference and what is kept of it."""

    def __init__(self, fleet: RefFleet) -> None:
        self.fleet = fleet
        self._register = register_of(fleet)
        self._kept = KeptYears([], [], [], [], [], [])

    def register(self, known_at: dt.datetime | None = None) -> Register:
        return self._register

    def change_lines(self) -> Iterator[ChangeLine]:
        """The first load of the outages and closures, which is all that a fleet's past is."""
        records: list[RegisterRecord] = [*self._register.outages.values()]
        records += self._register.closures.values()
        changes = (Change(old=None, new=record, initial=True) for record in records)
        return (ChangeLine(change, self.fleet.loaded_at, "") for change in changes)

    def unit_ids(self) -> dict[str, int]:
        return {unit.property_number: 10 + n for n, unit in enumerate(self.fleet.units)}

    def holiday_years(self) -> Sequence[HolidayYear]:
        return ()

    def _known(self, entry: RefEntry, known_at: dt.datetime | None) -> bool:
        return known_at is None or (entry.recorded_at or self.fleet.loaded_at) <= known_at

    def entries(
        self, unit_ids: Sequence[int] | None = None, task: str | None = None
    ) -> Iterator[StoredEntry]:
        numbers = self.unit_ids()
        lines = [
            StoredEntry(
                entry=_entry(entry), seq=seq, stored_at=self.fleet.loaded_at, by="", source="file"
            )
            for seq, entry in enumerate(self.fleet.entries)
            if unit_ids is None or numbers[entry.property_number] in unit_ids
            if task in (None, entry.task)
        ]
        return iter(sorted(lines, key=lambda line: numbers[line.entry.property_number]))

    def marks(
        self, unit_ids: Sequence[int] | None = None, known_at: dt.datetime | None = None
    ) -> MarkColumns:
        known = [entry for entry in self.fleet.entries if self._known(entry, known_at)]
        struck = {entry.strikes for entry in known if entry.strikes}
        numbers = self.unit_ids()
        live = [
            entry
            for entry in known
            if entry.mark and entry.key not in struck
            if unit_ids is None or numbers[entry.property_number] in unit_ids
        ]
        names = sorted({entry.task for entry in live})
        return MarkColumns(
            unit_ids=np.array([numbers[e.property_number] for e in live], dtype=np.int64),
            tasks=np.array([names.index(e.task) for e in live], dtype=np.int32),
            task_names=names,
            from_days=np.array([day_of(e.on) for e in live], dtype=np.int32),
            to_days=np.array([day_of(e.to_on or e.on) for e in live], dtype=np.int32),
            is_done=np.array([e.mark == "done" for e in live], dtype=np.bool_),
        )

    def kept_years(self, unit_ids: Sequence[int] | None = None) -> KeptYears:
        return self._kept

    def keep(self, unit_ids: Sequence[int], years: KeptYears) -> None:
        self._kept = years
