"""What of the record came after a month was signed and speaks of a day in it?

Entries and their corrections, and change lines of sites, calendars, units, moves and outages. What
counts is the instant the program stored them: what the reviewer could not see. A rule book that is
loaded later touches no month that was signed: an expectation of today is none of that month.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain

from fleet.domain.records import (
    Closure,
    Entry,
    Holiday,
    Outage,
    Pattern,
    Placement,
    Site,
    StoredEntry,
    Unit,
)
from fleet.domain.register import Register
from fleet.services.months import first_day, last_day, months
from fleet.services.ports import ChangeLine, PublicHolidays, Record
from fleet.services.stays import Span, Stay, charted, common, moves_of, site_on, stays

__all__ = ["REGISTER", "MonthKey", "touches"]

REGISTER = "register"
"""Stands for a change line, which has no key."""
MonthKey = tuple[str, str]
"""A site and a month."""
_ONE_DAY = dt.timedelta(days=1)
_ALWAYS: Span = (dt.date.min, dt.date.max)


def touches(
    record: Record,
    public_holidays: PublicHolidays,
    register: Register,
    signed_at: Mapping[MonthKey, dt.datetime],
    lines: Sequence[ChangeLine],
    known_at: dt.datetime | None,
) -> dict[MonthKey, list[str]]:
    """For each month signed that was touched since: the keys of the entries, then REGISTER.

    signed_at: the instant each month was signed; register, lines: as known at `known_at`.
    """
    if not signed_at:
        return {}
    found: dict[MonthKey, dict[str, None]] = defaultdict(dict)
    since = min(signed_at.values())
    reach = first_day(min(m for _, m in signed_at)), last_day(max(m for _, m in signed_at))
    for stored_at, name, stay in chain(
        _of_entries(record, register, since, known_at),
        _of_lines(record, public_holidays, register, lines, since),
    ):
        if span := common((stay.from_on, stay.to_on), reach):
            for month in months(*span):
                at = signed_at.get((stay.site, month))
                if at is not None and stored_at > at:
                    found[stay.site, month][name] = None
    return {key: list(names) for key, names in found.items()}


def _of_entries(
    record: Record, register: Register, since: dt.datetime, known_at: dt.datetime | None
) -> Iterator[tuple[dt.datetime, str, Stay]]:
    """Each later entry's instant and key, with the days it speaks of at each site.

    A correction speaks of the days of what it corrects, too.
    """
    moves = moves_of(register)
    later = [
        line
        for line in record.entries(stored_after=since)
        if known_at is None or (line.known_at <= known_at and line.stored_at <= known_at)
    ]
    struck = record.stored([line.entry.strikes for line in later if line.entry.strikes])
    for line in later:
        unit = register.units.get((line.entry.property_number,))
        if unit is None:
            continue
        spans = [_spoken(line.entry), *_spoken_of(struck.get(line.entry.strikes))]
        for stay in stays(unit, moves.get(unit.property_number, ())):
            for span in spans:
                if at_site := common(span, (stay.from_on, stay.to_on)):
                    yield line.stored_at, line.entry.key, Stay(stay.site, *at_site)


def _spoken(entry: Entry) -> Span:
    return entry.on, entry.to_on or entry.on


def _spoken_of(struck: StoredEntry | None) -> list[Span]:
    return [] if struck is None else [_spoken(struck.entry)]


def _of_lines(
    record: Record,
    public_holidays: PublicHolidays,
    register: Register,
    lines: Sequence[ChangeLine],
    since: dt.datetime,
) -> Iterator[tuple[dt.datetime, str, Stay]]:
    changed = _Changed(record, public_holidays, register, lines)
    for line in lines:
        if line.stored_at > since:
            for stay in changed.days(line):
                yield line.stored_at, REGISTER, stay


class _Changed:
    """Answers which days at which sites may be others by a change of the register."""

    def __init__(
        self,
        record: Record,
        public_holidays: PublicHolidays,
        register: Register,
        lines: Sequence[ChangeLine],
    ) -> None:
        self._register, self._moves = register, moves_of(register)
        self._public_holidays = public_holidays
        self._snapshot = {
            (year.country, year.subdivision, year.year): year.names
            for year in record.holiday_years()
        }
        self._own_since: dict[tuple[str, str, str, int], dt.datetime] = {}
        for line in lines:
            holiday = line.change.record
            if isinstance(holiday, Holiday):
                year = (holiday.site, holiday.country, holiday.subdivision, holiday.on.year)
                first = self._own_since.get(year, line.stored_at)
                self._own_since[year] = min(first, line.stored_at)

    def days(self, line: ChangeLine) -> Iterator[Stay]:
        """The days of one change line."""
        old, new = line.change.old, line.change.new
        match line.change.record:
            case Site() as site:
                yield from self._of_site(old, new, site)
            case Pattern() as pattern:
                if getattr(old, "open_days", None) != getattr(new, "open_days", None):
                    yield Stay(pattern.site, pattern.from_on, self._until(pattern))
            case Holiday() as holiday:
                yield from self._of_holiday(holiday, line)
            case Closure() as closure:
                for span in _differing(_closed(old), _closed(new)):
                    for name in [closure.site] if closure.site else self._sites():
                        yield Stay(name, *span)
            case Unit() as unit:
                yield from self._of_unit(old, new, unit)
            case Placement() as move:
                yield from self._of_move(old, new, move)
            case Outage() as outage:
                yield from self._of_outage(old, new, outage)

    def _sites(self) -> list[str]:
        return [site.site for site in self._register.sites.values()]

    def _until(self, pattern: Pattern) -> dt.date:
        """The last day of a weekly pattern: that before the site's next one."""
        later = [
            other.from_on
            for other in self._register.patterns.values()
            if other.site == pattern.site and other.from_on > pattern.from_on
        ]
        return min(later) - _ONE_DAY if later else dt.date.max

    def _of_site(self, old: object, new: object, site: Site) -> Iterator[Stay]:
        """The days of a site's first weekly pattern, or all where its holidays are others."""
        if not isinstance(old, Site) or not isinstance(new, Site):
            return
        if (old.country, old.subdivision) != (new.country, new.subdivision):
            yield Stay(site.site, *_ALWAYS)
        elif old.open_days != new.open_days:
            own = [p.from_on for p in self._register.patterns.values() if p.site == site.site]
            yield Stay(site.site, dt.date.min, min(own) - _ONE_DAY if own else dt.date.max)

    def _of_holiday(self, holiday: Holiday, line: ChangeLine) -> Iterator[Stay]:
        """Its day; and where it is the first that a place keeps of a year, or one is withdrawn, the
        public holidays whose place they take (design 4.2).
        """
        place = (holiday.country, holiday.subdivision, holiday.on.year)
        is_first = self._own_since[(holiday.site, *place)] == line.stored_at
        ons = {holiday.on, *(self._public(place) if is_first or not line.change.new else ())}
        for site in self._register.sites.values():
            is_here = (site.country, site.subdivision) == place[:2]
            if holiday.site == site.site or (not holiday.site and is_here):
                yield from (Stay(site.site, on, on) for on in sorted(ons))

    def _public(self, place: tuple[str, str, int]) -> Iterable[dt.date]:
        if place not in self._snapshot:
            self._snapshot[place] = self._public_holidays.year(*place).names
        return self._snapshot[place]

    def _of_unit(self, old: object, new: object, unit: Unit) -> Iterator[Stay]:
        """The days on which it has charts by the one record and not, or others, by the other."""
        before = old if isinstance(old, Unit) else None
        after = new if isinstance(new, Unit) else None
        spans = [charted(before) if before else None, charted(after) if after else None]
        if before and after and (before.kind, before.model) == (after.kind, after.model):
            differing = list(_differing(*spans))
        else:
            differing = [span for span in spans if span]
        moves = self._moves.get(unit.property_number, ())
        for one in filter(None, dict.fromkeys([before, after])):
            for stay in stays(one, moves):
                for span in differing:
                    if days := common(span, (stay.from_on, stay.to_on)):
                        yield Stay(stay.site, *days)
        if before and after and before.site != after.site:
            until = moves[0].from_on - _ONE_DAY if moves else dt.date.max
            for one in (before, after):
                if days := common(charted(one), (dt.date.min, until)):
                    yield Stay(one.site, *days)

    def _of_move(self, old: object, new: object, move: Placement) -> Iterator[Stay]:
        """The days from a move to the next one, at the sites it is between."""
        unit = self._register.units.get((move.property_number,))
        if unit is None:
            return
        others = [m for m in self._moves.get(move.property_number, ()) if m.key != move.key]
        later = [other.from_on for other in others if other.from_on > move.from_on]
        until = min(later) - _ONE_DAY if later else dt.date.max
        else_at = site_on(unit, others, move.from_on)
        came_to = [m.site if isinstance(m, Placement) else else_at for m in (old, new)]
        days = common(charted(unit), (move.from_on, until))
        if days and came_to[0] != came_to[1]:
            yield from (Stay(site, *days) for site in came_to)

    def _of_outage(self, old: object, new: object, outage: Outage) -> Iterator[Stay]:
        unit = self._register.units.get((outage.property_number,))
        if unit is None:
            return
        for span in _differing(_out(old), _out(new)):
            for stay in stays(unit, self._moves.get(outage.property_number, ())):
                if days := common(span, charted(unit), (stay.from_on, stay.to_on)):
                    yield Stay(stay.site, *days)


def _closed(closure: object) -> Span | None:
    return (closure.from_on, closure.to_on) if isinstance(closure, Closure) else None


def _out(outage: object) -> Span | None:
    """The days of an outage; the day of return is none of them."""
    if not isinstance(outage, Outage):
        return None
    to_on = dt.date.max if outage.to_on is None else outage.to_on - _ONE_DAY
    return outage.from_on, to_on


def _differing(one: Span | None, other: Span | None) -> Iterator[Span]:
    """The days that only one of two spans holds."""
    both = common(one, other)
    if both is None:
        yield from filter(None, (one, other))
    elif one and other:
        first_on, last_on = min(one[0], other[0]), max(one[1], other[1])
        if first_on < both[0]:
            yield first_on, both[0] - _ONE_DAY
        if both[1] < last_on:
            yield both[1] + _ONE_DAY, last_on
