"""Can this machine read scanned charts, and what does?

The libraries come with the extra `scan`; they are imported when a file is read.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from fleet.domain.scans import SheetRead
from fleet.services.scan_ports import PageRead, PageReader, PrintOf

__all__ = ["INSTALL", "page_reader"]

INSTALL: Final = "pip install 'dueward[scan]'"
"""What brings the libraries."""
_NEEDED: Final = ("cv2", "zxingcpp", "pypdfium2", "fleet.charts.reading", "fleet.files.scans")


def page_reader() -> PageReader | None:
    """What reads pages; None where something that it needs is not installed."""
    return FilePages() if all(map(_is_there, _NEEDED)) else None


def _is_there(name: str) -> bool:
    found = find_spec(name)
    return found is not None and found.origin is not None


class FilePages:
    """The port `PageReader` by the decoder of files and the reader of pages."""

    def read(self, name: str, content: bytes, print_of: PrintOf) -> Iterator[PageRead]:
        """The pages of a file, in its order; a picture that cannot be used has a problem."""
        pictures = import_module("fleet.files.scans").pictures
        read_pages = import_module("fleet.charts.reading").read_pages
        with TemporaryDirectory(prefix="dueward-") as folder:
            path = Path(folder) / name
            path.write_bytes(content)
            for _file, place, _data, found in pictures([path]):
                if isinstance(found, str):
                    yield PageRead(place, SheetRead(problem=found))
                else:
                    yield from (PageRead(place, one) for one in read_pages(found, print_of))
