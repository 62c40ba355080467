"""Can this machine read scanned charts, and what does?

The libraries come with the extra `scan`; they are imported when a file is read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from importlib.util import find_spec
from typing import Final

from fleet.domain.scans import SheetRead
from fleet.services.scan_ports import PageRead, PageReader, PrintOf

__all__ = ["INSTALL", "FilePages", "missing_modules", "page_reader"]

INSTALL: Final = "pip install 'dueward[scan]'"
"""What brings the libraries."""
_NEEDED: Final = ("cv2", "zxingcpp", "pypdfium2", "PIL")


def missing_modules() -> Sequence[str]:
    """What reads pictures and is not installed."""
    return [name for name in _NEEDED if find_spec(name) is None]


def page_reader() -> PageReader | None:
    """What reads pages; None where something that it needs is not installed."""
    return None if missing_modules() else FilePages()


class FilePages:
    """The port `PageReader` by the decoder of files and the reader of pages."""

    def read(self, name: str, content: bytes, print_of: PrintOf) -> Iterator[PageRead]:
        """The pages of a file, in its order; a picture that cannot be used has a problem."""
        from fleet.charts.reading.pages import read_pages
        from fleet.files.scans import ScanFile, pictures

        for one in pictures([ScanFile(name, content)]):
            if one.picture is None:
                yield PageRead(one.sheet, SheetRead(problem=one.problem))
            else:
                for read in read_pages(one.picture, print_of):
                    yield PageRead(one.sheet, read)
