"""What of the record has outlived its retention, and what stays for now, and why?

A record dated d may go on day D only if D > add(d, retention) (42 CFR 493.1105(a)(3), check value
A-08): of an entry both its last day and the day it became known, at the unit's site, must be past.
Where it was done, on which days, stays: no answer of what is due or missing changes. What goes are
the words: who, what was noted, read and said; and the certificates of services.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from fleet.domain.evidence import ServiceReport
from fleet.domain.records import REMOVED, StoredEntry, Unit
from fleet.domain.register import Register
from fleet.domain.texts import PROSE_LENGTH, check_prose
from fleet.errors import BadInput, Fault, NotFound
from fleet.services.ports import Record, Stamp
from fleet.services.retention import Limits, units_of_open_actions

__all__ = ["Disposal", "DisposalRow", "dispose", "plan_disposal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DisposalRow:
    """What goes and what stays of one kind, of what is dated before the day that was named."""

    kind: str
    retention: str | None
    """None where the rule book does not know the kind: then nothing goes."""
    entries: int
    entries_until: dt.date | None
    """The latest of their days."""
    certificates: int
    certificates_until: dt.date | None
    kept_in_retention: int
    kept_recorded_later: int
    """Entries past by their day, but not by the day they became known."""
    kept_with_correction: int
    """Entries that a correction ties to one that stays."""
    kept_open_action: int
    """Entries of units in a corrective action that is open."""
    kept_certificates: int
    removed_before: int


@dataclass(frozen=True, slots=True)
class Disposal:
    """What may go: keys of entries, and the SHA-256 of files; rows in the order of the kinds."""

    rows: list[DisposalRow]
    keys: list[str]
    files: list[str]


def plan_disposal(
    record: Record, before_on: dt.date, now: dt.datetime, kinds: Sequence[str] = ()
) -> Disposal:
    """Look for what is dated before a day and has outlived its retention; nothing is changed.

    now: the instant, whose civil date at each unit's site counts; kinds: only these, else all.
    Raises NotFound for a kind that no unit has.
    """
    register = record.register()
    known = {unit.kind for unit in register.units.values()}
    for kind in kinds:
        if kind not in known:
            raise NotFound("kind", kind, f"the units are of: {', '.join(sorted(known)) or 'none'}")
    chosen, limits = set(kinds) or known, Limits(register, now, before_on)
    held = units_of_open_actions(record, register)
    tallies: dict[str, _Tally] = defaultdict(_Tally)
    for unit, lines in _by_unit(record, register, chosen):
        is_held = unit.property_number in held
        for line, reason in _judged(lines, limits, unit, is_held=is_held):
            tallies[unit.kind].take(line, reason)
    files = _files(record, register, limits, held, tallies, chosen)
    rows = [tallies[kind].row(kind, limits.retention(kind)) for kind in sorted(tallies)]
    return Disposal(rows, [key for tally in tallies.values() for key in tally.keys], files)


def dispose(record: Record, disposal: Disposal, why: str, stamp: Stamp) -> None:
    """Remove what was planned in this same unit of work; `why` stays on every tombstone.

    Raises BadInput where no reason is given, StoreError where the tables are another's. The caller
    commits.
    """
    wrong = check_prose(why, PROSE_LENGTH)
    if not why.strip():
        raise BadInput([Fault("dispose", None, "why", "no reason is given", "say why with --why")])
    if wrong is not None:
        raise BadInput([Fault("dispose", None, "why", wrong.problem, wrong.mend)])
    if disposal.keys or disposal.files:
        record.remove(disposal.keys, disposal.files, why.strip(), stamp)


def _by_unit(
    record: Record, register: Register, kinds: set[str]
) -> Iterator[tuple[Unit, list[StoredEntry]]]:
    units = {n: unit for (n,), unit in register.units.items() if unit.kind in kinds}
    ids = record.unit_ids()
    lines = record.entries([ids[number] for number in units])
    for number, own in groupby(lines, key=lambda line: line.entry.property_number):
        yield units[number], list(own)


def _judged(
    lines: Iterable[StoredEntry], limits: Limits, unit: Unit, *, is_held: bool
) -> Iterator[tuple[StoredEntry, str]]:
    """Each entry of a unit dated before the day, and why it stays: '' for one that goes."""
    dated_until, known_until = limits.dated_until(unit), limits.known_until(unit)
    zone = limits.zone(unit)

    def own_reason(line: StoredEntry) -> str:
        if line.source == REMOVED:
            return REMOVED
        if is_held:
            return "action"
        if _last_on(line) > dated_until:
            return "retention"
        return "" if line.known_at.astimezone(zone).date() <= known_until else "recorded"

    for group in _groups(lines):
        reasons = [own_reason(line) for line in group]
        stays = any(reason not in ("", REMOVED) for reason in reasons)
        for line, reason in zip(group, reasons, strict=True):
            if limits.is_named(_last_on(line)):
                yield line, reason or ("correction" if stays else "")


def _last_on(line: StoredEntry) -> dt.date:
    return line.entry.to_on or line.entry.on


def _groups(lines: Iterable[StoredEntry]) -> list[list[StoredEntry]]:
    """A unit's entries, in the order of its chain: each with all that corrects it."""
    group_of: dict[str, list[StoredEntry]] = {}
    groups: list[list[StoredEntry]] = []
    for line in lines:
        group = group_of.get(line.entry.strikes) if line.entry.strikes else None
        if group is None:
            group = []
            groups.append(group)
        group.append(line)
        group_of[line.entry.key] = group
    return groups


@dataclass(slots=True)
class _Tally:
    """What was found of one kind so far."""

    keys: list[str] = field(default_factory=list)
    until: list[dt.date] = field(default_factory=list)
    kept: Counter[str] = field(default_factory=Counter)
    file_days: list[dt.date] = field(default_factory=list)

    def take(self, line: StoredEntry, reason: str) -> None:
        if reason:
            self.kept[reason] += 1
        else:
            self.keys.append(line.entry.key)
            self.until = [max([_last_on(line), *self.until])]

    def row(self, kind: str, retention: str | None) -> DisposalRow:
        return DisposalRow(
            kind=kind,
            retention=retention,
            entries=len(self.keys),
            entries_until=max(self.until, default=None),
            certificates=len(self.file_days),
            certificates_until=max(self.file_days, default=None),
            kept_in_retention=self.kept["retention"],
            kept_recorded_later=self.kept["recorded"],
            kept_with_correction=self.kept["correction"],
            kept_open_action=self.kept["action"],
            kept_certificates=self.kept["certificate"],
            removed_before=self.kept[REMOVED],
        )


def _files(
    record: Record,
    register: Register,
    limits: Limits,
    held: set[str],
    tallies: dict[str, _Tally],
    kinds: set[str],
) -> list[str]:
    """The certificates that no report still needs; each counts with its first report's kind.

    A report changed since still counts: a certificate stays as long as any that named it.
    """
    gone: list[str] = []
    for sha256, reports in _reports_of_files(record, register).items():
        unit = reports[0].unit
        if unit is None or unit.kind not in kinds:
            continue
        if not any(limits.is_named(report.on) for report in reports):
            continue
        if any(_needs_file(report, limits, held) for report in reports):
            tallies[unit.kind].kept["certificate"] += 1
        elif record.content(sha256) is not None:
            tallies[unit.kind].file_days.append(max(report.on for report in reports))
            gone.append(sha256)
    return gone


@dataclass(frozen=True, slots=True)
class _Report:
    """One version of a service report: its unit, its day and the instant it became known."""

    unit: Unit | None
    on: dt.date
    known_at: dt.datetime


def _needs_file(report: _Report, limits: Limits, held: set[str]) -> bool:
    unit = report.unit
    if unit is None or unit.property_number in held or report.on > limits.dated_until(unit):
        return True
    return report.known_at.astimezone(limits.zone(unit)).date() > limits.known_until(unit)


def _reports_of_files(record: Record, register: Register) -> dict[str, list[_Report]]:
    """Every version of a report that names a file, by the file's SHA-256."""
    found: dict[str, list[_Report]] = defaultdict(list)
    for line in record.change_lines():
        for report in (line.change.old, line.change.new):
            if isinstance(report, ServiceReport) and report.certificate:
                unit = register.units.get((report.property_number,))
                found[report.certificate].append(_Report(unit, report.on, line.stored_at))
    return found
