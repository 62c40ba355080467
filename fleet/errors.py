"""What `fleet` can refuse.

FleetError
├── BadInput           what a person gave cannot be used; carries every fault that was found
├── NotFound           no such unit, task, site or entry
├── Doubtful           possible, but only with the person's word that it is meant (`--anyway`)
├── KeyTaken           an idempotency key that stands for other content
├── Unanswered         a unit and task whose due date cannot be told
├── AppendOnly         an attempt to change what has been recorded
├── ChartTooLong       a chart with more rows a month than paper holds
├── UnknownLayout      a printed chart whose geometry a newer version made
├── BadPrint           a print of which what is kept cannot be read
├── ReaderMissing      what reads scans is not installed
├── LinkRefused        a link that is unknown, used or has ended
└── StoreError         the database cannot be used as it is (missing, older, locked, full)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "AppendOnly",
    "BadInput",
    "BadPrint",
    "ChartTooLong",
    "Doubtful",
    "Fault",
    "FleetError",
    "KeyTaken",
    "LinkRefused",
    "NotFound",
    "ReaderMissing",
    "StoreError",
    "Unanswered",
    "UnknownLayout",
]


class FleetError(Exception):
    """The base of everything this package refuses."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a file: where it stands, what is wrong, how to mend it."""

    file: str
    row: int | None
    column: str | None
    problem: str
    mend: str

    def __str__(self) -> str:
        place = self.file
        if self.row is not None:
            place += f" row {self.row}"
        if self.column is not None:
            place += f", {self.column}"
        return f"{place}: {self.problem}; {self.mend}"


class BadInput(FleetError):
    """Files or words that cannot be used; `faults` has at most 1,000, `total` counts them all."""

    def __init__(self, faults: Sequence[Fault], total: int | None = None) -> None:
        self.faults, self.total = tuple(faults), len(faults) if total is None else total
        super().__init__("\n".join(str(fault) for fault in self.faults))


class NotFound(FleetError):
    """Something named that is not there."""

    def __init__(self, what: str, name: str, mend: str) -> None:
        self.what, self.name, self.mend = what, name, mend
        super().__init__(f"no {what} '{name}'; {mend}")


class Doubtful(FleetError):
    """An entry that is possible but probably a slip."""

    def __init__(self, problem: str) -> None:
        self.problem = problem
        super().__init__(f"{problem}; say --anyway if it is meant")


class KeyTaken(FleetError):
    """The same idempotency key with other content."""

    def __init__(self, key: str, differs: str) -> None:
        self.key, self.differs = key, differs
        super().__init__(
            f"key '{key}' already stands for another entry ({differs} differs);"
            " an entry is never changed: strike it and write a new one"
        )


class Unanswered(FleetError):
    """A unit and task that have no answer; the message says which, why, and how to mend it."""


class AppendOnly(FleetError):
    """The database refused to change or remove what was recorded."""


class ReaderMissing(FleetError):
    """What reads scans is not installed."""

    def __init__(self, modules: Sequence[str]) -> None:
        self.modules = tuple(modules)
        super().__init__("reading scans needs more to be installed: pip install 'dueward[scan]'")


class StoreError(FleetError):
    """The database cannot be used as it is; the message says what to do."""


class ChartTooLong(FleetError):
    """A kind whose chart has more rows a month than a page of its own holds."""

    def __init__(self, kind: str, rows: int, box_rows: int, holds: int) -> None:
        self.kind, self.rows, self.box_rows, self.holds = kind, rows, box_rows, holds
        lines = "1 line" if box_rows == 1 else f"{box_rows} lines"
        self.problem = (
            f"its chart has {rows} rows a month and {lines} of boxes below them, and paper holds"
            f" {holds} rows of 5.0 mm with those"
        )
        self.mend = (
            "make one task of several that are done together, or let some of them be asked for each"
            " month instead of each day"
        )
        super().__init__(f"kind {kind}: {self.problem}; {self.mend}")


class UnknownLayout(FleetError):
    """A printed chart whose cells this version cannot find."""

    def __init__(self, layout: str, known: str) -> None:
        self.layout, self.known = layout, known
        super().__init__(
            f"a chart of layout {layout} was printed by a newer version of this program than this"
            f" one, which knows layout {known}; read it with that version"
        )


class BadPrint(FleetError):
    """A print whose kept rows cannot be read."""

    def __init__(self, number: str) -> None:
        self.number = number
        super().__init__(
            f"print {number}: what is kept of its rows is no list of rows; put back what was"
            " exported of it, or print the chart again"
        )


class LinkRefused(FleetError):
    """A link that opens nothing; `why` is unknown, used or ended, and says no more."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"this link is of no use any more ({why}); ask for a new one")
