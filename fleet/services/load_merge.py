"""What would the register be with the files' rows laid over it, and what changes on the way?

A row whose key is known replaces that record, or takes it out where it is withdrawn; a record that
no file names stays as it is.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from collections.abc import Set as AbstractSet
from typing import Any, TypeVar

from fleet.domain.evidence import Action, Extension, Renumbering, ServiceReport
from fleet.domain.mail_times import Absence, MailSetting
from fleet.domain.numbers import (
    present_numbers,
    renumbered,
    renumbered_keys,
    renumbered_register,
)
from fleet.domain.prints import Print
from fleet.domain.records import (
    Holiday,
    Outage,
    Placement,
    RegisterRecord,
    Site,
    Unit,
)
from fleet.domain.register import Change, Register
from fleet.domain.visits import StoredPlan, TechnicianDaysOff
from fleet.services.load_ports import REGISTER_TABLES, Faults, RegisterRows, Row, TableCount

__all__ = ["EverWithdrawn", "Key", "Merged", "counts", "merge", "register_changes"]

Key = tuple[str, ...]
EverWithdrawn = Callable[[type[RegisterRecord]], AbstractSet[Key]]
"""Answers the keys of the records of a class that were ever withdrawn."""
_Record = TypeVar("_Record", bound=RegisterRecord)
_NAME_OF: dict[type, str] = {kind: table for table, kind in REGISTER_TABLES.items()}


class Merged:
    """The register as it is, and with the rows of the files laid over it."""

    def __init__(self, known: Register, given: RegisterRows, ever_withdrawn: EverWithdrawn) -> None:
        self.numbers = _numbers_after(known, given)
        """Every property number given up or taken, and the one its unit bears after the load."""
        self.numbers_before = frozenset(key[0] for key in known.units)
        self._ever_withdrawn = ever_withdrawn
        known = renumbered_register(known, self.numbers)
        self.known, self._given = known, given
        self._now: dict[str, dict[Key, Any]] = {
            table: dict(getattr(known, table)) for table in REGISTER_TABLES
        }
        self._rows: dict[str, dict[Key, Row[Any]]] = {table: {} for table in given.tables}
        self._withdrawn: dict[str, dict[Key, Row[Any]]] = {table: {} for table in given.tables}

    def ever_withdrawn(self, kind: type[RegisterRecord]) -> AbstractSet[Key]:
        """The keys of the records of a class that were ever withdrawn."""
        return renumbered_keys(kind, self._ever_withdrawn(kind), self.numbers)

    @property
    def is_first(self) -> bool:
        """Say whether this is the first load of the fleet: no site stands in the store yet."""
        return not self.known.sites

    def before(self, kind: type[_Record]) -> Mapping[Key, _Record]:
        """The records of a class that stand in the store."""
        found: Mapping[Key, _Record] = getattr(self.known, _NAME_OF[kind])
        return found

    def now(self, kind: type[_Record]) -> Mapping[Key, _Record]:
        """The records of a class as they would be."""
        return self._now[_NAME_OF[kind]]

    def rows(self, kind: type[_Record]) -> Mapping[Key, Row[_Record]]:
        """The rows of a class that the files gave, in their order; none that is withdrawn."""
        return self._rows.get(_NAME_OF[kind], {})

    def withdrawn(self, kind: type[_Record]) -> Mapping[Key, Row[_Record]]:
        """The rows of a class that the files withdraw, in their order."""
        return self._withdrawn.get(_NAME_OF[kind], {})

    def is_given(self, kind: type[RegisterRecord]) -> bool:
        """Say whether the files hold the table of a class."""
        return _NAME_OF[kind] in self._rows

    def is_spoiled(self, kind: type[RegisterRecord], name: str | None = None) -> bool:
        """Say whether a row about this site or unit (None: any) was given but could not be read."""
        table = _NAME_OF[kind]
        spoiled = self._given.spoiled.get(table, frozenset())
        spoiled |= {self.numbers[other] for other in spoiled & self.numbers.keys()}
        return table in self._given.unread or (bool(spoiled) if name is None else name in spoiled)

    def lay(self, row: Row[RegisterRecord], faults: Faults) -> None:
        """Lay one row over the register; a second row of one key is a fault."""
        table, key = _NAME_OF[type(row.record)], row.record.key
        if first := self._rows[table].get(key) or self._withdrawn[table].get(key):
            name = " ".join(part for part in key if part)
            is_same = (first.record, first.withdrawn) == (row.record, row.withdrawn)
            same = "the same" if is_same else "another"
            problem = f"{first.file} row {first.row} is already {same} row for {name}"
            faults.add(row.file, row.row, None, problem, "keep one of the two")
            return
        if row.withdrawn:
            self._withdrawn[table][key] = row
            self._now[table].pop(key, None)
        else:
            self._rows[table][key] = row
            self._now[table][key] = row.record


def merge(
    known: Register, given: RegisterRows, ever_withdrawn: EverWithdrawn, faults: Faults
) -> Merged:
    """Lay all rows over the register."""
    merged = Merged(known, given, ever_withdrawn)
    for table in REGISTER_TABLES:
        for row in given.tables.get(table, ()):
            if isinstance(row.record, Holiday):
                row = _with_place(row, row.record, merged, faults)
            if merged.numbers:
                of_now = renumbered(row.record, merged.numbers)
                row = dataclasses.replace(row, record=of_now)
            merged.lay(row, faults)
    return merged


def _numbers_after(known: Register, given: RegisterRows) -> dict[str, str]:
    standing = dict(known.renumberings)
    for row in given.tables.get(_NAME_OF[Renumbering], ()):
        if isinstance(row.record, Renumbering):
            standing[row.record.key] = row.record
    return present_numbers(standing.values())


def _with_place(
    row: Row[RegisterRecord], holiday: Holiday, merged: Merged, faults: Faults
) -> Row[RegisterRecord]:
    """Fill a site's country and subdivision into its holiday; they may not name another place."""
    site = merged.now(Site).get((holiday.site,))
    if site is None:
        return row
    for column, said, is_so in (
        ("country", holiday.country, site.country),
        ("subdivision", holiday.subdivision, site.subdivision),
    ):
        if said not in ("", is_so):
            problem = f"site {site.site} is not in '{said}' but in '{is_so}'"
            faults.add(row.file, row.row, column, problem, "leave it empty: the site tells it")
    record = dataclasses.replace(holiday, country=site.country, subdivision=site.subdivision)
    return dataclasses.replace(row, record=record)


def register_changes(merged: Merged) -> list[Change]:
    """The change lines that bring the register up to the files, table by table."""
    return [change for kind in REGISTER_TABLES.values() for change in _changes_of(merged, kind)]


def _changes_of(merged: Merged, kind: type[RegisterRecord]) -> Iterator[Change]:
    before = merged.before(kind)
    for key in merged.withdrawn(kind):
        if key in before:
            yield Change(old=before[key], new=None, initial=False)
    for key, row in merged.rows(kind).items():
        if (old := before.get(key)) != row.record:
            is_initial = old is None and _is_initial(merged, row.record)
            yield Change(old=old, new=row.record, initial=is_initial)


def _is_initial(merged: Merged, record: RegisterRecord) -> bool:
    """Say whether a new record comes with the first load of what it belongs to (design 4.6).

    What belongs to no site of its own belongs to the whole fleet; people do so too, unless they
    come with their site.
    """
    if isinstance(record, Site | Unit):
        return True
    if isinstance(record, Renumbering):
        return (merged.numbers[record.former],) not in merged.before(Unit)
    if isinstance(record, Placement | Outage | Extension | ServiceReport | Print):
        return (record.property_number,) not in merged.before(Unit)
    if isinstance(record, Action) and record.property_number:
        return (record.property_number,) not in merged.before(Unit)
    if isinstance(record, Absence | MailSetting | StoredPlan | TechnicianDaysOff):
        return merged.is_first
    return merged.is_first or (bool(record.site) and (record.site,) not in merged.before(Site))


def counts(merged: Merged) -> dict[str, TableCount]:
    """How many rows of each table given are new, changed (or withdrawn) and unchanged."""
    return {
        table: _count(merged, kind)
        for table, kind in REGISTER_TABLES.items()
        if merged.is_given(kind)
    }


def _count(merged: Merged, kind: type[RegisterRecord]) -> TableCount:
    before, rows, withdrawn = merged.before(kind), merged.rows(kind), merged.withdrawn(kind)
    new = sum(key not in before for key in rows)
    unchanged = sum(before.get(key) == row.record for key, row in rows.items())
    changed, gone = len(rows) - new - unchanged, sum(key in before for key in withdrawn)
    return TableCount(new, changed + gone, unchanged + len(withdrawn) - gone)
