"""How is an export laid out in a folder?

sites.csv … entries.csv and rules.toml as design 7 has them, lines.tsv (`line_file`), the folder
attachments/ with each file under its SHA-256, and SHA256SUMS over all of these, as `sha256sum -c`
reads it. Cells stand as they are, also those that a spreadsheet would take for a formula: a mark
before them would change the data, and a load takes no cell for one.
"""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO

from fleet.domain.chain import Line
from fleet.domain.evidence import Attachment
from fleet.domain.records import Entry, RegisterRecord
from fleet.errors import BadInput, Fault
from fleet.files.line_file import LINES, write_line_file
from fleet.files.staging import sync
from fleet.files.table_shapes import WITHDRAWN, Table
from fleet.files.tables import ENTRIES, TABLES
from fleet.services.disk import disk_told

__all__ = ["ATTACHMENTS", "SUMS", "ExportFolder", "new_folder", "sha256_of"]

ATTACHMENTS, SUMS = "attachments", "SHA256SUMS"
_SUFFIXES = {
    "application/json": ".json",
    "application/pdf": ".pdf",
    "image/jpeg": ".jpg",
    "image/png": ".png",
    "image/tiff": ".tif",
    "text/plain": ".txt",
}


class ExportFolder:
    """Implements `fleet.services.export.ExportFiles` in a folder that is there and empty."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def book(self, text: str) -> None:
        """Write the rule book in force."""
        with self._file("rules.toml") as file:
            file.write(text.encode())

    def table(self, table: str, records: Iterable[RegisterRecord]) -> None:
        """Write one table of the register; none where it has no record."""
        rows = list(records)
        if rows:
            self._csv(TABLES[table], rows)

    def entries(self, entries: Iterable[Entry]) -> None:
        """Write the entries, struck ones and corrections too."""
        self._csv(ENTRIES, entries)

    def lines(self, lines: Iterable[Line]) -> None:
        """Write the lines of every chain, as they were hashed."""
        with self._file(LINES) as file:
            write_line_file(file, lines)

    def attachment(self, attachment: Attachment, content: bytes) -> None:
        """Write an attached file."""
        (self._folder / ATTACHMENTS).mkdir(exist_ok=True)
        with self._file(f"{ATTACHMENTS}/{_name_of(attachment)}") as file:
            file.write(content)

    def finish(self) -> None:
        """Write the hash of every file."""
        paths = sorted(path for path in self._folder.rglob("*") if path.is_file())
        names = [path.relative_to(self._folder).as_posix() for path in paths]
        sums = [f"{sha256_of(path)}  {name}\n" for path, name in zip(paths, names, strict=True)]
        with self._file(SUMS) as file:
            file.write("".join(sums).encode())

    def _csv(self, table: Table, rows: Iterable[RegisterRecord | Entry]) -> None:
        """Write RFC 4180, but for the line ends, which are those of other text here."""
        columns = [column for column in table.columns if column.name != WITHDRAWN]
        fields = [column.target for column in columns]
        name = self._folder / f"{table.name}.csv"
        with name.open("x", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow([column.name for column in columns])
            writer.writerows([_cell(getattr(row, field)) for field in fields] for row in rows)
            sync(file)

    @contextmanager
    def _file(self, name: str) -> Iterator[IO[bytes]]:
        with (self._folder / name).open("xb") as file:
            yield file
            sync(file)


def _name_of(attachment: Attachment) -> str:
    """The name of an attached file: the SHA-256 of its content, and what kind of file it is."""
    return attachment.sha256 + _SUFFIXES.get(attachment.media_type, "")


def sha256_of(path: Path) -> str:
    """Hash a file's content, 64 hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """Give a folder to fill that takes the place of `folder` when the block ends well.

    Raises BadInput where `folder` is there and holds anything, or there is no folder above it, and
    StoreError where the disk refuses; then nothing is left.
    """
    _check_free(folder)
    place = folder.resolve()
    with disk_told(folder), TemporaryDirectory(dir=place.parent, prefix=".export-") as name:
        made = Path(name) / "made"
        made.mkdir()
        yield made
        if place.is_dir() and os.name == "nt":
            place.rmdir()  # only there may a folder not be renamed to an empty one's name
        made.rename(place)


def _check_free(folder: Path) -> None:
    if folder.is_dir():
        if next(folder.iterdir(), None) is not None:
            raise _refused(folder, "the folder is not empty", "name a new folder")
    elif folder.exists():
        raise _refused(folder, "there is a file of that name", "name a new folder")
    elif not folder.resolve().parent.is_dir():
        raise _refused(folder, f"there is no folder {folder.parent}", "make it first")


def _refused(folder: Path, problem: str, mend: str) -> BadInput:
    return BadInput([Fault(str(folder), None, None, problem, mend)])


def _cell(value: object) -> str:
    """A value as a cell that reads back as the same value."""
    if value is None or value is False:
        return ""
    if value is True:
        return "yes"
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        return format(Decimal(repr(value)), "f")
    return value.value if isinstance(value, StrEnum) else str(value)
