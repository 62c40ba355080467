"""What do scanned charts need: of the store, and of whatever reads them?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from fleet.domain.prints import Print
from fleet.domain.scan_sheets import Answer, ScanCell, ScanFile, ScanSheet, Scope, SheetState
from fleet.domain.scans import SheetRead

__all__ = ["PageRead", "PageReader", "PrintOf", "Scans"]

PrintOf = Callable[[str], Print | None]
"""The print of a number; None where there is none."""


@dataclass(frozen=True, slots=True)
class PageRead:
    """One page that was looked for; place: which picture of the file it is in, from 1."""

    place: int
    read: SheetRead


class PageReader(Protocol):
    """Finds the pages of charts in a file, and reads their cells."""

    def read(self, name: str, content: bytes, print_of: PrintOf) -> Iterable[PageRead]:
        """The pages of a file, in its order; a picture that cannot be used has a problem.

        Raises BadInput for a file that cannot be opened.
        """
        ...


class Scans(Protocol):
    """Scanned charts, on one unit of work."""

    def add_file(self, file: ScanFile, content: bytes) -> None:
        """Keep a file that was not sent before."""
        ...

    def file(self, sha256: str) -> ScanFile | None:
        """A file by the hash of its content."""
        ...

    def content(self, sha256: str) -> bytes | None:
        """The content of a file that is not attached to the record yet."""
        ...

    def drop_content(self, sha256: str) -> None:
        """Let go of the content of a file: it is attached."""
        ...

    def add_sheet(self, sheet: ScanSheet, cells: Sequence[ScanCell], flat: bytes) -> None:
        """Keep a page with what was read of it and its flat picture."""
        ...

    def sheet(self, number: str, scope: Scope) -> ScanSheet | None:
        """A page by its number; None where it is not there, or beyond the scope."""
        ...

    def sheets(
        self, scope: Scope, state: SheetState | None = None, file: str = ""
    ) -> Sequence[ScanSheet]:
        """The pages within a scope, of one state or file: by site, print and page."""
        ...

    def copies(self, sheet: ScanSheet) -> Sequence[ScanSheet]:
        """Other pictures of the same page of the same print, the oldest file first."""
        ...

    def put_sheet(self, sheet: ScanSheet) -> None:
        """Write how a page stands."""
        ...

    def cells(self, number: str) -> Sequence[ScanCell]:
        """The cells of a page, by row and slot."""
        ...

    def flat(self, number: str) -> bytes:
        """The flat picture of a page; empty where there is none, or no longer."""
        ...

    def drop_flat(self, number: str) -> None:
        """Let go of the flat picture of a page."""
        ...

    def put_answer(
        self,
        number: str,
        cells: Iterable[tuple[int, int]],
        answer: Answer,
        words: str,
        by: str,
        at: dt.datetime,
    ) -> None:
        """Write what somebody said of cells, each by its row and slot."""
        ...
