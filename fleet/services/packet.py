"""What is the evidence of one site for a span of days, as an inspector asks for it (design 1)?"""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from operator import attrgetter
from typing import Any
from zoneinfo import ZoneInfo

from fleet.domain.answers import StatusRow
from fleet.domain.chain import Line, root_of
from fleet.domain.evidence import Action, Extension, ServiceReport
from fleet.domain.numbers import present_numbers
from fleet.domain.prints import Print
from fleet.domain.records import Entry, Site, StoredEntry, Unit
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault, NotFound
from fleet.services.charts.cells import UnitCharts, unit_charts
from fleet.services.columns import book_of
from fleet.services.due import Sheet, answer_sheet, sheets
from fleet.services.findings import finding_rows
from fleet.services.months import last_day, month_of, months
from fleet.services.narrow import check_names
from fleet.services.packet_changes import changes_of, shown_lines
from fleet.services.packet_facts import (
    ActionCourse,
    AttachedFile,
    PacketFacts,
    PacketQuestion,
    PacketUnit,
    Removed,
)
from fleet.services.ports import ChangeLine, PublicHolidays, Record
from fleet.services.questions import Narrow, Question
from fleet.services.reviews import ReviewRow, review_rows
from fleet.services.stays import Stay, common, moves_of, stays
from schedules.rules import Basis, RuleBook

__all__ = ["LONGEST_YEARS", "packet_facts"]

LONGEST_YEARS = 10
"""A packet of more would be too long to read and to print."""
_ONE_DAY = dt.timedelta(days=1)
_WHOLE = ("rule_book", "holiday_year", "attachment", "tombstone")
"""The chains that go into a packet whole, beside those of its units and of the register."""


def packet_facts(
    record: Record, public_holidays: PublicHolidays, asked: PacketQuestion
) -> PacketFacts:
    """Gather a site's evidence.

    Raises BadInput for a span that is out of order, too long or not begun yet, and for a site that
    is unknown; NotFound for one that was not known at the instant asked for.
    """
    _check_span(asked.from_on, asked.to_on)
    try:
        check_names(record, Narrow(sites=(asked.site,)))
    except BadInput as unknown:
        raise BadInput([replace(fault, file="SITE") for fault in unknown.faults]) from None
    return _Gatherer(record, public_holidays, asked).facts(asked.made_by)


def _check_span(from_on: dt.date, to_on: dt.date) -> None:
    if to_on < from_on:
        problem = f"{to_on} lies before --from {from_on}"
        raise BadInput([Fault("--to", None, None, problem, "give the later day as --to")])
    if (to_on - from_on).days > LONGEST_YEARS * 366:
        problem = f"{from_on} to {to_on} is longer than {LONGEST_YEARS} years"
        raise BadInput([Fault("--to", None, None, problem, "ask for several packets")])


class _Gatherer:
    """One question about one site."""

    def __init__(
        self, record: Record, public_holidays: PublicHolidays, asked: PacketQuestion
    ) -> None:
        self._record, self._holidays = record, public_holidays
        self._span, self._known_at = (asked.from_on, asked.to_on), asked.known_at
        self._register = record.register(asked.known_at)
        self._site = _site(self._register, asked.site, asked.known_at)
        self._on = self._judged_on(asked)
        self._question = Question(
            now=asked.now,
            on=self._on,
            known_at=asked.known_at,
            narrow=Narrow(sites=(self._site.site,)),
        )
        self._book = book_of(self._register)
        self._units = _units(self._register, self._book, self._site.site, self._span)
        self._numbers = {of.unit.property_number for of in self._units}
        ids = record.unit_ids()
        chosen = [ids[number] for number in sorted(self._numbers)]
        self._stored = [line for line in record.entries(chosen) if self._is_known(line.known_at)]

    def _judged_on(self, asked: PacketQuestion) -> dt.date:
        """The day after the span, or today (that of the instant asked for) if it is earlier."""
        seen_at = min(asked.now, asked.known_at) if asked.known_at else asked.now
        today = seen_at.astimezone(ZoneInfo(self._site.time_zone)).date()
        if asked.from_on > today:
            problem = f"{asked.from_on} is still to come at {self._site.site}"
            mend = f"give a day up to {today}" + (", or a later --known-at" * bool(asked.known_at))
            raise BadInput([Fault("--from", None, None, problem, mend)])
        return min(today, asked.to_on + _ONE_DAY)

    def facts(self, made_by: str) -> PacketFacts:
        """All there is to say."""
        record, heads = self._record, self._record.heads()
        whole = list(record.lines(self._chains(heads)))
        own = {chain.partition("/")[2] for chain in self._entry_chains()}
        lines = list(shown_lines(whole, self._site.site, own))
        sheet = self._sheet()
        duties, failures = self._duties(sheet)
        changes, reports = self._changes(), self._reports()
        entries, corrections = self._entries()
        files = {one.certificate for one in reports if one.certificate}
        return PacketFacts(
            site=self._site,
            from_on=self._span[0],
            to_on=self._span[1],
            on=self._on,
            known_at=self._known_at,
            as_of=self._known_at or _last_stored_at(whole),
            made_by=made_by,
            root=root_of(heads),
            heads=heads,
            lines=lines,
            book=self._book.text,
            book_sha256=self._book.sha256,
            units=self._units,
            changes=changes,
            charts=self._charts(sheet),
            duties=duties,
            entries=entries,
            corrections=corrections,
            findings=finding_rows(record, self._holidays, *self._span, self._question),
            reports=reports,
            files=list(self._files(files)),
            actions=list(self._actions(changes)),
            reviews=self._reviews(),
            extensions=list(self._extensions()),
            prints=self._prints(),
            removed=_removed(lines, self._entry_chains(), files),
            failures=failures,
        )

    def _reports(self) -> list[ServiceReport]:
        found = (
            one
            for one in self._register.reports.values()
            if self._was_here(one.property_number, one.on, one.on)
        )
        return sorted(found, key=lambda one: (one.on, one.key))

    def _extensions(self) -> Iterator[Extension]:
        for one in sorted(self._register.extensions.values(), key=attrgetter("key")):
            if self._was_here(one.property_number, one.from_on, one.until_on):
                yield one

    def _prints(self) -> list[Print]:
        years = range(self._span[0].year, self._span[1].year + 1)
        found = (
            one
            for one in self._register.prints.values()
            if one.site == self._site.site
            and one.property_number in self._numbers
            and one.year in years
        )
        return sorted(found, key=attrgetter("property_number", "year", "printed_on", "number"))

    def _is_known(self, at: dt.datetime) -> bool:
        return self._known_at is None or at <= self._known_at

    def _was_here(self, number: str, from_on: dt.date, to_on: dt.date) -> bool:
        """Say whether a day of from_on … to_on is one of the span on which the unit was here."""
        return any(
            common((stay.from_on, stay.to_on), self._span, (from_on, to_on))
            for of in self._units
            if of.unit.property_number == number
            for stay in of.stays
            if stay.site == self._site.site
        )

    def _entry_chains(self) -> set[str]:
        """The chains of the units, which keep the number each was first entered under."""
        present = present_numbers(self._register.renumberings.values())
        former = {number for number, now in present.items() if now in self._numbers}
        return {f"entry/{number}" for number in self._numbers | former}

    def _chains(self, heads: Iterable[str]) -> list[str]:
        own = self._entry_chains()
        return [
            chain
            for chain in heads
            if chain in own or chain in _WHOLE or chain.startswith("register/")
        ]

    def _sheet(self) -> Sheet | None:
        units = [of.unit for of in self._units]
        return next(sheets(self._record, self._holidays, self._question, units), None)

    def _charts(self, sheet: Sheet | None) -> list[UnitCharts]:
        if sheet is None or not self._units:
            return []
        outages = self._register.outages.values()
        return unit_charts(sheet, outages, self._stored, *self._span, self._site.site)

    def _duties(self, sheet: Sheet | None) -> tuple[dict[str, list[StatusRow]], list[str]]:
        """Anchored and fixed duties at the end of each month, and those that have no answer."""
        found: dict[str, list[StatusRow]] = {}
        failures: dict[str, None] = {}
        if sheet is None or not self._units:
            return found, []
        until = min(self._span[1], sheet.on)
        for month in months(self._span[0], until):
            on = min(last_day(month), until)
            rows, failed = answer_sheet(replace(sheet, on=on))
            failures |= dict.fromkeys(failed.values())
            found[month] = [
                row
                for row in rows.values()
                if row.site == self._site.site and row.basis != Basis.CELL.value
            ]
        return found, list(failures)

    def _changes(self) -> list[ChangeLine]:
        known = (
            line
            for line in self._record.change_lines()
            if line.change.initial or self._is_known(line.stored_at)
        )
        return list(changes_of(known, self._site, self._numbers))

    def _entries(self) -> tuple[list[StoredEntry], list[tuple[StoredEntry, StoredEntry]]]:
        standing = {line.entry.key: line for line in self._stored}
        here = {
            line.entry.key
            for line in self._stored
            if self._was_here(line.entry.property_number, line.entry.on, _end(line.entry))
        }
        corrections = [
            (standing[line.entry.strikes], line)
            for line in self._stored
            if line.entry.strikes in standing and {line.entry.strikes, line.entry.key} & here
        ]
        here |= {line.entry.key for pair in corrections for line in pair}
        return [line for line in self._stored if line.entry.key in here], corrections

    def _files(self, wanted: set[str]) -> Iterator[AttachedFile]:
        for attachment in self._record.attachments():
            if attachment.sha256 in wanted:
                yield AttachedFile(attachment, self._record.content(attachment.sha256))

    def _actions(self, changes: Sequence[ChangeLine]) -> Iterator[ActionCourse]:
        course: dict[tuple[str, ...], list[ChangeLine]] = defaultdict(list)
        for line in changes:
            if isinstance(line.change.record, Action):
                course[line.change.record.key].append(line)
        for action in sorted(
            self._register.actions.values(), key=attrgetter("opened_on", "number")
        ):
            days = action.opened_on, action.closed_on or dt.date.max
            if action.site == self._site.site and common(self._span, days):
                yield ActionCourse(action, course[action.key])

    def _reviews(self) -> list[ReviewRow]:
        span = month_of(self._span[0]), month_of(self._span[1])
        return review_rows(self._record, self._holidays, *span, self._question, counts_gaps=False)


def _end(entry: Entry) -> dt.date:
    return entry.to_on or entry.on


def _site(register: Register, name: str, known_at: dt.datetime | None) -> Site:
    for site in register.sites.values():
        if site.site.casefold() == name.casefold():
            return site
    raise NotFound("site", name, f"it was not known at {known_at:%Y-%m-%dT%H:%M:%SZ}; ask later")


def _units(
    register: Register, book: RuleBook, site: str, span: tuple[dt.date, dt.date]
) -> list[PacketUnit]:
    """The units that were in service at the site on a day of the span, by property number."""
    moves, found = moves_of(register), []
    for unit in sorted(register.units.values(), key=attrgetter("property_number")):
        in_service = unit.in_service_on, _last_service_on(unit)
        own = [
            Stay(stay.site, *days)
            for stay in stays(unit, moves.get(unit.property_number, ()))
            if (days := common((stay.from_on, stay.to_on), in_service))
        ]
        here = [(stay.from_on, stay.to_on) for stay in own if stay.site == site]
        if any(common(days, span) for days in here):
            found.append(_packet_unit(register, book, unit, own, span))
    return found


def _last_service_on(unit: Unit) -> dt.date:
    return unit.retired_on - _ONE_DAY if unit.retired_on else dt.date.max


def _packet_unit(
    register: Register,
    book: RuleBook,
    unit: Unit,
    own: Sequence[Stay],
    span: tuple[dt.date, dt.date],
) -> PacketUnit:
    kind = book.kinds.get(unit.kind)
    versions = kind.tasks(unit.model).values() if kind else ()
    present = present_numbers(register.renumberings.values())
    number = unit.property_number
    return PacketUnit(
        unit=unit,
        kind=kind,
        stays=own,
        outages=sorted(
            (one for one in register.outages.values() if one.property_number == number),
            key=attrgetter("from_on"),
        ),
        renumberings=sorted(
            (one for one in register.renumberings.values() if present.get(one.former) == number),
            key=attrgetter("from_on"),
        ),
        rules=[
            rule
            for of_task in versions
            for rule in reversed(of_task)
            if common(span, (rule.from_on or dt.date.min, rule.until_on or dt.date.max))
        ],
    )


def _last_stored_at(lines: Iterable[Line]) -> dt.datetime:
    """The latest instant at which the last line of a chain was stored."""
    last = {line.chain: line for line in lines}
    instants = [json.loads(line.content)["stored_at"] for line in last.values()]
    return dt.datetime.fromisoformat(max(instants))


def _removed(lines: Iterable[Line], chains: set[str], files: set[str]) -> list[Removed]:
    """The tombstones of lines of some chains, and of files."""
    stones: list[Mapping[str, Any]] = [
        json.loads(line.content) for line in lines if line.chain == "tombstone"
    ]
    return [
        Removed(
            stone["of_chain"],
            stone["of_seq"],
            stone["key"],
            stone["of_hash"],
            stone["reason"],
            stone["stored_at"],
            stone["by"],
        )
        for stone in stones
        if stone["of_chain"] in chains or stone["key"] in files
    ]
