"""What passes between `load` and the files it reads? Rows with their places, faults, a report.

A row is counted as a person sees it: the header is row 1.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Generic, Protocol, TypeVar

from fleet.domain.chain import Line
from fleet.domain.evidence import Action, Extension, Renumbering, Review, ServiceReport
from fleet.domain.mail_times import Absence, MailSetting, QuietPeriod
from fleet.domain.prints import Print
from fleet.domain.records import (
    Closure,
    Entry,
    Holiday,
    Outage,
    Pattern,
    Person,
    Placement,
    RegisterRecord,
    Site,
    Unit,
)
from fleet.domain.visits import SiteVisit, StoredPlan, TechnicianDaysOff, UnsuitableDays
from fleet.errors import BadInput, Fault

__all__ = [
    "MAX_FAULTS",
    "REGISTER_TABLES",
    "BookFile",
    "EntryRows",
    "Faults",
    "FilesReader",
    "LineFiles",
    "LoadReport",
    "Progress",
    "RegisterRows",
    "Row",
    "TableCount",
]

_Record = TypeVar("_Record", covariant=True)

MAX_FAULTS = 1_000
"""So many faults are kept and told; the rest are only counted."""

REGISTER_TABLES: Mapping[str, type[RegisterRecord]] = {
    "sites": Site,
    "patterns": Pattern,
    "holidays": Holiday,
    "closures": Closure,
    "units": Unit,
    "placements": Placement,
    "outages": Outage,
    "people": Person,
    "renumberings": Renumbering,
    "extensions": Extension,
    "reports": ServiceReport,
    "actions": Action,
    "reviews": Review,
    "prints": Print,
    "absences": Absence,
    "quiet_periods": QuietPeriod,
    "mail_settings": MailSetting,
    "plans": StoredPlan,
    "visits": SiteVisit,
    "unsuitable_days": UnsuitableDays,
    "technician_days_off": TechnicianDaysOff,
}
"""The tables that make the register (design 7, and what this program keeps besides), each after
those it refers to."""


class Faults:
    """All that is wrong with the files, collected so that a person sees it at once."""

    def __init__(self) -> None:
        self.kept: list[Fault] = []
        self.total = 0

    def add(self, file: str, row: int | None, column: str | None, problem: str, mend: str) -> None:
        """Note one fault."""
        self.total += 1
        if len(self.kept) < MAX_FAULTS:
            self.kept.append(Fault(file, row, column, problem, mend))

    def raise_if_any(self) -> None:
        """Refuse the files with every fault found."""
        if self.total:
            raise BadInput(self.kept, self.total)


@dataclass(frozen=True, slots=True)
class Row(Generic[_Record]):
    """One register record and where it stands; a withdrawn one tells no more than its key."""

    file: str
    row: int
    record: _Record
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class RegisterRows:
    """The register rows that could be read, by table; a table is there if a file of it was given.

    `spoiled` names, by table, what the unreadable rows were about (sites, property numbers), and
    `unread` the tables of which a whole file could not be read, so that one fault is not told
    again by each row that refers to it.
    """

    tables: Mapping[str, Sequence[Row[RegisterRecord]]]
    spoiled: Mapping[str, frozenset[str]] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class EntryRows:
    """Some entries of one file, a position an entry; `numbers` are their rows."""

    file: str
    numbers: Sequence[int]
    entries: Sequence[Entry]


@dataclass(frozen=True, slots=True)
class BookFile:
    """A rule book's text and the file it stands in."""

    file: str
    text: str


class LineFiles(Protocol):
    """An export as it stands in files."""

    def check(self) -> None:
        """Compare every file with the hash noted beside them; BadInput names each that differs."""
        ...

    def lines(self) -> Iterator[Line]:
        """The lines, in the order of the file; BadInput for one that cannot be read."""
        ...

    def contents(self) -> Iterator[tuple[str, bytes]]:
        """Each attached file: the SHA-256 it is kept under, and its content."""
        ...


class FilesReader(Protocol):
    """Reads the files of design 7; what cannot be read goes to `faults`, and the rest is given."""

    def export(self) -> LineFiles | None:
        """The export among the files, where there is one; it is loaded by itself."""
        ...

    def book(self, faults: Faults) -> BookFile | None:
        """The rule book among the files, or None."""
        ...

    def register(self, faults: Faults) -> RegisterRows:
        """Every table but entries, whole."""
        ...

    def entries(self, faults: Faults) -> Iterator[EntryRows]:
        """The entries, file by file, so many rows at a time that memory stays bounded."""
        ...

    def remarks(self) -> Iterable[str]:
        """What was left out, and why; complete once all has been read."""
        ...


class Progress(Protocol):
    """Is told how far a load has come."""

    def step(self, rows: int) -> None:
        """So many rows more have been dealt with."""
        ...


@dataclass(frozen=True, slots=True)
class TableCount:
    """How many records of a table were new, changed and unchanged."""

    new: int = 0
    changed: int = 0
    unchanged: int = 0


@dataclass(frozen=True, slots=True)
class LoadReport:
    """What a load did, or with `dry_run` would have done; `tables` holds the tables given."""

    tables: Mapping[str, TableCount]
    remarks: tuple[str, ...]
    dry_run: bool
