"""How do scanned charts stand in their tables?"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict
from typing import Any

import sqlalchemy as sa

from fleet.domain.scan_sheets import Answer, ScanCell, ScanFile, ScanSheet, Scope, SheetState
from fleet.storage.scan_schema import scan_cell, scan_file, scan_sheet

__all__ = ["SqlScans"]

_OF_SHEET = [column for column in scan_sheet.c if column.name != "flat"]
_OF_FILE = [column for column in scan_file.c if column.name != "content"]
_OF_CELL = [column for column in scan_cell.c if column.name != "sheet"]


class SqlScans:
    """The port `Scans` on one unit of work."""

    def __init__(self, connection: sa.Connection, writing: Callable[[], sa.Connection]) -> None:
        self._connection, self._writing = connection, writing

    def add_file(self, file: ScanFile, content: bytes) -> None:
        """Keep a file that was not sent before."""
        self._writing().execute(sa.insert(scan_file), {**asdict(file), "content": content})

    def file(self, sha256: str) -> ScanFile | None:
        """A file by the hash of its content."""
        query = sa.select(*_OF_FILE).where(scan_file.c.sha256 == sha256)
        row = self._connection.execute(query).mappings().one_or_none()
        return None if row is None else ScanFile(**row)

    def content(self, sha256: str) -> bytes | None:
        """The content of a file that is not attached to the record yet."""
        query = sa.select(scan_file.c.content).where(scan_file.c.sha256 == sha256)
        content = self._connection.execute(query).scalar_one_or_none()
        return None if content is None else bytes(content)

    def drop_content(self, sha256: str) -> None:
        """Let go of the content of a file: it is attached."""
        change = sa.update(scan_file).where(scan_file.c.sha256 == sha256)
        self._writing().execute(change.values(content=None))

    def add_sheet(self, sheet: ScanSheet, cells: Sequence[ScanCell], flat: bytes) -> None:
        """Keep a page with what was read of it and its flat picture."""
        row = {**_row(sheet), "flat": flat or None}
        self._writing().execute(sa.insert(scan_sheet), row)
        rows = [{**asdict(cell), "sheet": sheet.number} for cell in cells]
        if rows:
            self._writing().execute(sa.insert(scan_cell), rows)

    def sheet(self, number: str, scope: Scope) -> ScanSheet | None:
        """A page by its number; None where it is not there, or beyond the scope."""
        found = self._sheets(scan_sheet.c.number == number, _within(scope))
        return found[0] if found else None

    def sheets(
        self, scope: Scope, state: SheetState | None = None, file: str = ""
    ) -> list[ScanSheet]:
        """The pages within a scope, of one state or file: by site, print and page."""
        wanted = [_within(scope)]
        if state is not None:
            wanted.append(scan_sheet.c.state == state)
        if file:
            wanted.append(scan_sheet.c.file == file)
        return self._sheets(*wanted)

    def copies(self, sheet: ScanSheet) -> list[ScanSheet]:
        """Other pictures of the same page of the same print, the oldest file first."""
        is_same = (scan_sheet.c.print == sheet.print, scan_sheet.c.page == sheet.page)
        if not sheet.print:
            return []
        return self._sheets(*is_same, scan_sheet.c.number != sheet.number, first="sent_at")

    def put_sheet(self, sheet: ScanSheet) -> None:
        """Write how a page stands."""
        change = sa.update(scan_sheet).where(scan_sheet.c.number == sheet.number)
        self._writing().execute(change, _row(sheet))

    def cells(self, number: str) -> list[ScanCell]:
        """The cells of a page, by row and slot."""
        query = sa.select(*_OF_CELL).where(scan_cell.c.sheet == number)
        query = query.order_by(scan_cell.c.row, scan_cell.c.slot)
        return [ScanCell(**row) for row in self._connection.execute(query).mappings()]

    def flat(self, number: str) -> bytes:
        """The flat picture of a page; empty where there is none, or no longer."""
        query = sa.select(scan_sheet.c.flat).where(scan_sheet.c.number == number)
        return bytes(self._connection.execute(query).scalar_one_or_none() or b"")

    def drop_flat(self, number: str) -> None:
        """Let go of the flat picture of a page."""
        change = sa.update(scan_sheet).where(scan_sheet.c.number == number)
        self._writing().execute(change.values(flat=None))

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
        told = {"answer": answer, "words": words, "answered_by": by, "answered_at": at}
        for row, slot in cells:
            this = (scan_cell.c.sheet == number, scan_cell.c.row == row, scan_cell.c.slot == slot)
            self._writing().execute(sa.update(scan_cell).where(*this).values(**told))

    def _sheets(self, *wanted: sa.ColumnElement[bool], first: str = "site") -> list[ScanSheet]:
        order = (scan_file.c.sent_at,) if first == "sent_at" else (scan_sheet.c.site,)
        query = (
            sa.select(*_OF_SHEET)
            .join(scan_file, scan_file.c.sha256 == scan_sheet.c.file)
            .where(*wanted)
            .order_by(*order, scan_sheet.c.print, scan_sheet.c.page, scan_sheet.c.number)
        )
        rows = self._connection.execute(query).mappings()
        return [
            ScanSheet(**{**row, "warnings": tuple(json.loads(row["warnings"]))}) for row in rows
        ]


def _within(scope: Scope) -> sa.ColumnElement[bool]:
    """What a scope lets see: its sites' pages, and its own that are of no site."""
    is_own = sa.and_(scan_sheet.c.site == "", scan_file.c.by == scope.by)
    return sa.or_(scan_sheet.c.site.in_(sorted(scope.sites)), is_own)


def _row(sheet: ScanSheet) -> dict[str, Any]:
    return {**asdict(sheet), "warnings": json.dumps(list(sheet.warnings), ensure_ascii=False)}
