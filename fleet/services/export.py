"""How does everything leave the program as files that load again (design 7)?

The tables hold the present state in plain form; the lines hold what was hashed, so that a load of
them gives the same answers for every day and every instant, and the same hashes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from fleet.domain.chain import Flaw, Line
from fleet.domain.evidence import Attachment
from fleet.domain.records import REMOVED, Entry, RegisterRecord, StoredEntry
from fleet.services.checked import checked
from fleet.services.line_tables import chains_in_order
from fleet.services.load_ports import REGISTER_TABLES, Progress
from fleet.services.ports import Record

__all__ = ["ExportFiles", "ExportReport", "export"]

_Item = TypeVar("_Item")
_STEP = 1_000


class ExportFiles(Protocol):
    """Takes what an export holds, table by table."""

    def book(self, text: str) -> None:
        """Write the rule book in force."""
        ...

    def table(self, table: str, records: Iterable[RegisterRecord]) -> None:
        """Write one table of the register; none where it has no record."""
        ...

    def entries(self, entries: Iterable[Entry]) -> None:
        """Write the entries, struck ones and corrections too."""
        ...

    def lines(self, lines: Iterable[Line]) -> None:
        """Write the lines of every chain, as they were hashed."""
        ...

    def attachment(self, attachment: Attachment, content: bytes) -> None:
        """Write an attached file."""
        ...

    def finish(self) -> None:
        """Write the hash of every file."""
        ...


@dataclass(frozen=True, slots=True)
class ExportReport:
    """What an export holds."""

    root: str
    """The root over all heads, 64 hexadecimal digits."""
    lines: int
    flaws: tuple[Flaw, ...]
    """Where a chain is not as it was written: an export with one does not load again."""


def export(record: Record, files: ExportFiles, progress: Progress) -> ExportReport:
    """Write all that one unit of work sees into files; `progress` is told entries and lines."""
    register = record.register()
    if register.book is not None:
        files.book(register.book.text)
    for table in REGISTER_TABLES:
        records = getattr(register, table)
        files.table(table, [records[key] for key in sorted(records)])
    files.entries(_Counted(progress).of(map(_plain, record.entries())))
    lines = _Counted(progress)
    files.lines(lines.of(_lines(record)))
    for attachment in record.attachments():
        content = record.content(attachment.sha256)
        if content is not None:
            files.attachment(attachment, content)
    files.finish()
    found = checked(record, progress)
    return ExportReport(found.root, lines.passed, found.flaws)


def _plain(stored: StoredEntry) -> Entry:
    """An entry as a file may hold it: also one whose reason was removed says why it strikes."""
    entry = stored.entry
    if stored.source == REMOVED and entry.strikes and not entry.why:
        return replace(entry, why=REMOVED)
    return entry


def _lines(record: Record) -> Iterator[Line]:
    for chain in chains_in_order(record.unit_ids()):
        yield from record.lines([chain])


class _Counted:
    """Counts what passes, and tells of it."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self.passed = 0

    def of(self, items: Iterable[_Item]) -> Iterator[_Item]:
        for item in items:
            self.passed += 1
            if not self.passed % _STEP:
                self._progress.step(_STEP)
            yield item
