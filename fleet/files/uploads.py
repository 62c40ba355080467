"""May files that a browser sent be read? By their names, their sizes and what is packed in them.

After OWASP ASVS 5.0.0, 5.2: sizes are bounded packed and unpacked, a name is no path, and a
workbook holds no document type, so that no entity in it can grow or reach out (ECMA-376-2, 8.1.4,
allows none).
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from fleet.domain.texts import shown
from fleet.errors import BadInput, Fault
from fleet.files.attached import cleaned_name

__all__ = ["MOST_BYTES", "MOST_FILES", "MOST_UNPACKED_BYTES", "checked_uploads", "in_a_folder"]

MOST_FILES: Final = 30
MOST_BYTES: Final = 10 * 2**20
"""Of all files of one form together."""
MOST_UNPACKED_BYTES: Final = 20 * 2**20
"""Of the workbooks of one form together: half a million cells or so."""
_MOST_BOOK_BYTES: Final = 2**20
_MOST_PARTS: Final = 1_000
_BLOCK_BYTES: Final = 2**16
_NAME: Final = re.compile(r"[\w()][\w .,()-]{0,79}")
_KINDS: Final = (".csv", ".xlsx", ".toml")
_TYPE_SIGNS: Final = tuple(
    sign.encode(code)
    for sign in ("<!DOCTYPE", "<!ENTITY")
    for code in ("utf-8", "utf-16-le", "utf-16-be")
)
_SAVE_AS: Final = "save it again as XLSX, or each sheet as CSV UTF-8"

Upload = tuple[str, bytes]
"""The name a browser gave a file, and its bytes."""


def checked_uploads(sent: Sequence[Upload]) -> list[Upload]:
    """The files under names that are no path and differ from each other.

    Raises BadInput with a fault a file that cannot be taken, and for too many or too large ones.
    """
    if not sent:
        raise BadInput([Fault("files", None, "files", "no file is chosen", "choose some")])
    if len(sent) > MOST_FILES or sum(len(content) for _, content in sent) > MOST_BYTES:
        problem = f"they are more than {MOST_FILES} files, or more than {MOST_BYTES // 2**20} MB"
        mend = "send them in several parts: sites and units first, entries by year"
        raise BadInput([Fault("files", None, "files", problem, mend)])
    files = [(cleaned_name(name.rpartition("\\")[2]), content) for name, content in sent]
    faults = [Fault(shown(name)[1:-1], None, "files", *wrong) for name, wrong in _wrongs(files)]
    if faults:
        raise BadInput(faults)
    return files


def _wrongs(files: Sequence[Upload]) -> Iterator[tuple[str, tuple[str, str]]]:
    seen, left = set[str](), MOST_UNPACKED_BYTES
    for name, content in files:
        suffix = Path(name).suffix.lower()
        if not _NAME.fullmatch(name) or suffix not in _KINDS:
            mend = "send CSV, XLSX and TOML files, named as units.csv or entries-2026.csv"
            yield name, ("it has no name that a table or rule book has", mend)
        elif name.casefold() in seen:
            yield name, ("two files are called so", "rename one, as entries-2025.csv")
        elif not content:
            yield name, ("the file is empty", "choose the one that was saved last")
        elif suffix == ".toml" and len(content) > _MOST_BOOK_BYTES:
            yield name, ("it has more than 1 MB", "a rule book is a short text in TOML")
        elif suffix == ".xlsx":
            unpacked, wrong = _workbook(content, left)
            left -= unpacked
            if wrong is not None:
                yield name, wrong
        seen.add(name.casefold())


def _workbook(content: bytes, most: int) -> tuple[int, tuple[str, str] | None]:
    """How many bytes a workbook unpacks to, and what is wrong with it."""
    try:
        with zipfile.ZipFile(BytesIO(content)) as packed:
            parts = packed.infolist()
            # A part that unpacks to more than it says is cut there, and its checksum is wrong.
            size = sum(part.file_size for part in parts)
            if size > most or len(parts) > _MOST_PARTS:
                problem = f"its sheets unpack to more than {MOST_UNPACKED_BYTES // 2**20} MB"
                return 0, (problem, "save its large sheets as CSV UTF-8")
            if any(_has_document_type(packed, part) for part in parts):
                problem = "it has a document type in it, as no spreadsheet program writes"
                return size, (problem, _SAVE_AS)
    except Exception:  # A damaged archive brings out any error of zip and its compressions.
        return 0, ("it is not an XLSX workbook that can be read", _SAVE_AS)
    return size, None


def _has_document_type(packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    overlap = max(map(len, _TYPE_SIGNS)) - 1
    before = b""
    with packed.open(part) as file:
        while block := file.read(_BLOCK_BYTES):
            seen = before + block
            if any(sign in seen for sign in _TYPE_SIGNS):
                return True
            before = seen[-overlap:]
    return False


@contextmanager
def in_a_folder(files: Sequence[Upload]) -> Iterator[list[Path]]:
    """The files on disk, for whatever reads paths, while the block lasts."""
    with TemporaryDirectory(prefix="dueward-") as folder:
        paths = []
        for name, content in checked_uploads(files):
            path = Path(folder) / name
            path.write_bytes(content)
            paths.append(path)
        yield paths
