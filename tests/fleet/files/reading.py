"""Files written for a test, and what the reader says of them."""

from __future__ import annotations

from pathlib import Path

from fleet.domain.records import Entry, RegisterRecord
from fleet.files.reader import read_tables
from fleet.services.load_ports import Faults

__all__ = ["faults_of", "read_entries", "records_of", "write"]


def write(folder: Path, **files: str | bytes) -> Path:
    """Write CSV files named by table ('entries_2025' becomes entries-2025.csv)."""
    for name, text in files.items():
        path = folder / f"{name.replace('_', '-')}.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def faults_of(*paths: Path, chunk_rows: int = 50_000) -> list[str]:
    """Everything the reader finds wrong, as it is told."""
    faults = Faults()
    files = read_tables(paths, chunk_rows=chunk_rows)
    files.register(faults)
    files.book(faults)
    for _ in files.entries(faults):
        pass
    return [str(fault) for fault in faults.kept]


def records_of(*paths: Path) -> list[tuple[str, int, RegisterRecord]]:
    """File, row and record of each register row; refuses faults."""
    faults = Faults()
    rows = read_tables(paths).register(faults)
    assert [str(fault) for fault in faults.kept] == []
    return [(row.file, row.row, row.record) for table in rows.tables.values() for row in table]


def read_entries(*paths: Path, chunk_rows: int = 50_000) -> list[tuple[str, int, Entry]]:
    """File, row and entry of each entry; refuses faults."""
    faults = Faults()
    chunks = list(read_tables(paths, chunk_rows=chunk_rows).entries(faults))
    assert [str(fault) for fault in faults.kept] == []
    assert all(len(chunk.entries) <= chunk_rows for chunk in chunks)
    return [
        (chunk.file, number, entry)
        for chunk in chunks
        for number, entry in zip(chunk.numbers, chunk.entries, strict=True)
    ]
