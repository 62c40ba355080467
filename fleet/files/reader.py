"""What do the files of design 7 say? The reader that `fleet.services.load` asks for rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from fleet.domain.records import RegisterRecord
from fleet.files.cells import CellError
from fleet.files.csv_text import csv_chunks
from fleet.files.entry_rows import EntryFile
from fleet.files.export_reader import WrittenExport, export_among
from fleet.files.frames import CHUNK_ROWS, Chunk
from fleet.files.sources import Source, find_sources
from fleet.files.table_shapes import WITHDRAWN, Table
from fleet.files.tables import ENTRIES, TABLES
from fleet.files.values import Values, chunk_values
from fleet.files.xlsx_text import sheet_chunks
from fleet.services.load_ports import BookFile, EntryRows, Faults, RegisterRows, Row

__all__ = ["Files", "read_tables"]


def read_tables(paths: Sequence[Path], *, chunk_rows: int = CHUNK_ROWS) -> Files:
    """Make a reader of files and folders; entries are read so many rows at a time."""
    return Files(paths, chunk_rows)


class Files:
    """Implements `fleet.services.load_ports.FilesReader`; nothing is opened before it is asked."""

    def __init__(self, paths: Sequence[Path], chunk_rows: int) -> None:
        self._chunk_rows = chunk_rows
        self._found_faults = Faults()
        self._paths = [Path(path) for path in paths]
        self._sources = find_sources(self._paths, self._found_faults)

    def export(self) -> WrittenExport | None:
        """The export among the paths, or None; BadInput where it is not alone."""
        return export_among(self._paths)

    def book(self, faults: Faults) -> BookFile | None:
        """The rule book among the files, or None."""
        books = self._sources.books
        for extra in books[1:]:
            problem = f"there is a second rule book beside {books[0].name}"
            faults.add(extra.name, None, None, problem, "load one book: it is taken whole")
        if not books:
            return None
        try:
            return BookFile(books[0].name, books[0].read_text(encoding="utf-8-sig"))
        except UnicodeDecodeError:
            faults.add(books[0].name, None, None, "the text is not UTF-8", "save it again as UTF-8")
            return None

    def register(self, faults: Faults) -> RegisterRows:
        """Every table but entries, whole."""
        for fault in self._found_faults.kept:
            faults.add(fault.file, fault.row, fault.column, fault.problem, fault.mend)
        tables: dict[str, list[Row[RegisterRecord]]] = {}
        spoiled: dict[str, frozenset[str]] = {}
        unread: set[str] = set()
        for name, table in TABLES.items():
            for source in self._sources.tables:
                if source.table == name:
                    read = _FileRows(source.label, table, faults)
                    before = faults.total
                    for chunk in self._chunks(source, faults):
                        read.take(chunk)
                    if faults.total - before > read.told:
                        unread.add(name)
                    tables.setdefault(name, []).extend(read.rows)
                    spoiled[name] = spoiled.get(name, frozenset()) | read.spoiled
        return RegisterRows(tables, spoiled, frozenset(unread))

    def entries(self, faults: Faults) -> Iterator[EntryRows]:
        """The entries, file by file, a chunk at a time."""
        for source in self._sources.tables:
            if source.table == ENTRIES.name:
                file = EntryFile(source.label, faults)
                for chunk in self._chunks(source, faults):
                    yield file.rows(chunk)

    def remarks(self) -> Sequence[str]:
        """What was left out."""
        return self._sources.remarks

    def _chunks(self, source: Source, faults: Faults) -> Iterator[Chunk]:
        table = TABLES.get(source.table, ENTRIES)
        if source.sheet is None:
            return csv_chunks(source.path, source.label, table, faults, self._chunk_rows)
        return sheet_chunks(source.sheet, source.label, table, faults, self._chunk_rows)


class _FileRows:
    """The records of one register file, and what its unreadable rows were about."""

    def __init__(self, label: str, table: Table, faults: Faults) -> None:
        self._label, self._table, self._faults = label, table, faults
        self.rows: list[Row[RegisterRecord]] = []
        self.spoiled: set[str] = set()
        self.told = 0
        """The number of faults told of rows, those of the file as a whole left out."""

    def take(self, chunk: Chunk) -> None:
        """Read the next rows."""
        before = self._faults.total
        values = chunk_values(chunk, self._table)
        self.spoiled |= values.spoiled
        for problem in values.problems:
            self._faults.add(
                self._label, problem.row, problem.column, problem.problem, problem.mend
            )
        for number, row in _rows(values):
            record = _record(self._label, number, row, self._table, self._faults)
            if record is None:
                self.spoiled.add(str(row[self._table.required[0]]))
            else:
                withdrawn = bool(row.get(WITHDRAWN, False))
                self.rows.append(Row(self._label, number, record, withdrawn))
        self.told += self._faults.total - before


def _rows(values: Values) -> Iterator[tuple[int, dict[str, object]]]:
    names = list(values.columns)
    for number, *row in zip(values.numbers, *values.columns.values(), strict=True):
        yield number, dict(zip(names, row, strict=True))


def _record(
    label: str, number: int, row: dict[str, object], table: Table, faults: Faults
) -> RegisterRecord | None:
    """Make one record; None, and its faults told, where its cells contradict each other."""
    assert table.record is not None  # noqa: S101  (every table of TABLES has one)
    before = faults.total
    fields = {
        column.target: row[column.name] for column in table.columns if column.name != WITHDRAWN
    }
    try:
        table.complete(fields)
    except CellError as fault:
        faults.add(label, number, "subdivision", fault.problem, fault.mend)
        return None
    record = table.record(**fields)
    # A row that takes its record back need hold no more than the key.
    for wrong in () if row.get(WITHDRAWN) else table.checks(record):
        faults.add(label, number, wrong.column, wrong.problem, wrong.mend)
    return record if faults.total == before else None
