"""What do files of scanned charts say: each page, by its print, against the record of today?"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from typing import TYPE_CHECKING

from fleet.domain.prints import Print
from fleet.domain.scans import SheetRead
from fleet.errors import ReaderMissing
from fleet.services.scans.read_cells import ReadCell, charts_now, read_cells

if TYPE_CHECKING:
    from fleet.files.scans import ScanFile
    from fleet.wiring import Program

__all__ = ["ReadPage", "check_reader", "read_files"]

_NEEDS = ("cv2", "zxingcpp", "pypdfium2")


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
    missing = [name for name in _NEEDS if find_spec(name) is None]
    if missing:
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
        charts = charts_now(record, program.public_holidays, [print_], program.clock())
    cells = read_cells(print_, read, charts.get(print_.number))
    return ReadPage(file, sheet, print_, read, tuple(cells))
