"""What do files of scanned charts say: each page, by its print, against the record of today?"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fleet.desk.page_reader import missing_modules
from fleet.domain.prints import Print
from fleet.domain.scans import SheetRead
from fleet.errors import ReaderMissing
from fleet.services.scans.read_cells import ReadCell, read_cells
from fleet.services.scans.today import PrintToday

if TYPE_CHECKING:
    from fleet.files.scans import ScanFile
    from fleet.wiring import Program

__all__ = ["ReadPage", "check_reader", "read_files"]


@dataclass(frozen=True, slots=True)
class ReadPage:
    """One page that was looked for in a file."""

    file: ScanFile
    sheet: int
    """Of the file, from 1; several charts of one picture have the same."""
    print: Print | None
    """None where none was read, or no such chart was printed from this database."""
    read: SheetRead
    cells: tuple[ReadCell, ...]


def check_reader() -> None:
    """Raise ReaderMissing where what reads pictures is not installed."""
    if missing := missing_modules():
        raise ReaderMissing(missing)


def read_files(
    program: Program, files: Iterable[ScanFile], step: Callable[[int], None] = lambda _: None
) -> Iterator[ReadPage]:
    """Read the chart pages in files, in their order; `step` is told of each picture.

    Nothing is written. Raises ReaderMissing as `check_reader` does.
    """
    check_reader()
    from fleet.charts.reading.pages import read_pages
    from fleet.files.scans import pictures

    with program.store.begin() as record:
        prints = {one.number: one for one in record.register().prints.values()}
    for one in pictures(files):
        if one.picture is None:
            yield ReadPage(one.file, one.sheet, None, SheetRead(problem=one.problem), ())
        else:
            for read in read_pages(one.picture, prints.get):
                yield _page(program, one.file, one.sheet, prints.get(read.number), read)
        step(1)


def _page(
    program: Program, file: ScanFile, sheet: int, print_: Print | None, read: SheetRead
) -> ReadPage:
    if print_ is None or not (read.cells or read.closed):
        return ReadPage(file, sheet, print_, read, ())
    with program.store.begin() as record:
        today = PrintToday(record, program.public_holidays, print_, program.clock())
        cells = tuple(read_cells(today, read))
    return ReadPage(file, sheet, print_, read, cells)
