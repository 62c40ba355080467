"""May this file be kept beside the record? Read, measured and looked into before it is attached.

A certificate is a PDF without active content (fleet.files.pdf_content) or a picture: PNG, JPEG or
TIFF (fleet.files.pictures). What it is, is told by its bytes and never by its name, so that a
picture called report.pdf is kept, as a picture. Nothing is read of what is too large or no file.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import unicodedata
from pathlib import Path

from fleet.domain.evidence import Attachment
from fleet.domain.texts import NAME_LENGTH, shown
from fleet.errors import BadInput, Fault
from fleet.files.pdf_content import PDF, pdf_flaw
from fleet.files.pictures import picture_flaw, picture_type
from fleet.services.ports import AttachedFile

__all__ = ["MOST_BYTES", "attached", "cleaned_name", "read_attached"]

MOST_BYTES = 20 * 2**20
"""20 MB; a certificate of some pages, scanned in colour, has a tenth of that."""

_NO_FILE = {
    stat.S_IFDIR: "a folder",
    stat.S_IFIFO: "a pipe",
    stat.S_IFSOCK: "a socket",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
}
_MEND = "attach the certificate as a PDF, PNG, JPEG or TIFF"
_NAMELESS = "certificate"


def read_attached(path: Path) -> AttachedFile:
    """Read a file that is to be attached; known by its bytes, under its own name, cleaned.

    Raises BadInput for what is no file, empty, over 20 MB, of no kind that is kept, cut short, or
    a PDF with active content; OSError where it cannot be read.
    """
    return _kept(path, _content(path))


def attached(name: str, content: bytes) -> AttachedFile:
    """A file that came with a form; judged and named as one that is read. Raises BadInput."""
    path = Path(cleaned_name(name))
    if len(content) > MOST_BYTES:
        raise _too_large(path, "more than ")
    if not content:
        raise _refused(path, "the file is empty", _MEND)
    return _kept(path, content)


def _kept(path: Path, content: bytes) -> AttachedFile:
    media_type, wrong = _judged(content)
    if wrong is not None:
        raise _refused(path, *wrong)
    digest = hashlib.sha256(content).hexdigest()
    name = cleaned_name(str(path))
    return AttachedFile(Attachment(digest, name, media_type, len(content)), content)


def cleaned_name(given: str) -> str:
    """The last part of a path of any system, without what cannot be seen; never empty.

    Longer than a name may be, it is cut before its ending.
    """
    last = re.split(r"[/\\]", given)[-1]
    seen = "".join(c for c in last if unicodedata.category(c) not in _UNSEEN).strip()
    if not seen.strip("."):
        return _NAMELESS
    ending = Path(seen).suffix[:16]
    return seen.removesuffix(ending)[: NAME_LENGTH - len(ending)] + ending


_UNSEEN = {"Cc", "Cf", "Cs", "Zl", "Zp"}
"""Unicode categories: controls, formats (also those that turn text around), surrogates, breaks."""


def _refused(path: Path, problem: str, mend: str) -> BadInput:
    return BadInput([Fault(shown(path.name)[1:-1], None, None, problem, mend)])


def _content(path: Path) -> bytes:
    """The file's bytes; its sort and size are looked at before anything of it is opened or read."""
    _check(path, path.stat())
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with open(os.open(path, flags), "rb") as file:  # noqa: PTH123 - opened without waiting
        _check(path, os.fstat(file.fileno()))
        content = file.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise _too_large(path, "more than ")
    if not content:
        raise _refused(path, "the file is empty", _MEND)
    return content


def _check(path: Path, found: os.stat_result) -> None:
    if not stat.S_ISREG(found.st_mode):
        what = _NO_FILE.get(stat.S_IFMT(found.st_mode), "no file")
        raise _refused(path, f"it is {what}", "give the certificate's file")
    if found.st_size > MOST_BYTES:
        raise _too_large(path, f"{found.st_size:,} bytes, more than ")


def _too_large(path: Path, size: str) -> BadInput:
    mend = "scan it in grey or with fewer dots an inch, or attach only the certificate's pages"
    return _refused(path, f"it has {size}{MOST_BYTES:,} bytes", mend)


def _judged(content: bytes) -> tuple[str, tuple[str, str] | None]:
    """The media type of what the bytes are, and what is wrong with them with its mend."""
    if content.startswith(b"%PDF-"):
        return PDF, pdf_flaw(content)
    if media_type := picture_type(content):
        problem = picture_flaw(content)
        mend = "save or scan the picture anew, and attach that"
        return media_type, None if problem is None else (problem, mend)
    begins = shown(content[:24].decode("latin-1"))
    return "", (f"it is neither a PDF nor a picture that is kept (it begins {begins})", _MEND)
