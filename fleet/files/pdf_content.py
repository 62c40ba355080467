"""Is this PDF whole, open, and without anything that acts when it is read?

Looked for, as ISO 32000-1 names them: scripts (12.6.4.16), launching a program (12.6.4.5), files
inside the file (7.11.4), media that play scripts (12.6.4.13, RichMedia), XFA forms (12.7.8) and
encryption (7.6), which would hide all these. Names are found also where their letters are written
as #xx (7.3.5), in the whole of the bytes and in what every Flate stream unfolds to.

What is NOT seen: names inside a stream that is packed by another filter than Flate alone, as LZW,
ASCII85, a chain of filters or a predictor (an object stream packed in such a way is refused);
what a font, a picture or a colour profile may do to a faulty reader; links to the web, which stay.
This is a sieve at the door, not a virus scanner.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from typing import Final

__all__ = ["MOST_UNFOLDED", "PDF", "pdf_flaw"]

PDF: Final = "application/pdf"
MOST_UNFOLDED = 256 * 2**20
"""So many bytes all Flate streams of one file may unfold to: twenty scanned pages in colour."""

_AT_ONCE, _READ_AT_ONCE = 2**20, 2**16
_OVERLAP = 256
_ANEW = "print it to a new PDF without it, or scan it"

_FORBIDDEN: Final = {
    "JavaScript": "a script",
    "Launch": "the launching of a program",
    "EmbeddedFile": "a file inside the file",
    "EmbeddedFiles": "a file inside the file",
    "RichMedia": "media that can act",
    "Rendition": "media that can act",
}
"""Names that do not come about by chance in packed bytes."""
_SHORT: Final = {"JS": "a script", "XFA": "a form that can act"}
"""Names too short for that: they count only before a value that they can have."""


def _spelled(*names: str) -> bytes:
    """A pattern of one of these names, each letter plain or as #xx, a group a name."""
    return b"/(?:" + b"|".join(b"(%b)" % _letters(name) for name in names) + b")"


def _letters(name: str) -> bytes:
    hexes = ((c, "".join(f"[{h}{h.upper()}]" for h in f"{ord(c):02x}")) for c in name)
    return "".join(f"(?:{c}|#{digits})" for c, digits in hexes).encode()


_GAP = rb"(?:[\x00\t\n\f\r ]|%[^\r\n]*[\r\n])*"
_END = rb"(?=[\x00\t\n\f\r ()<>\[\]{}/%]|$)"
_VALUE = rb"(?:[(<\[]|\d{1,10}" + _GAP + rb"\d{1,5}" + _GAP + rb"R)"
_LONG_NAMES = re.compile(_spelled(*_FORBIDDEN) + _END)
_SHORT_NAMES = re.compile(_spelled(*_SHORT) + _GAP + _VALUE)
_ENCRYPT = re.compile(_spelled("Encrypt") + _END)
_STREAM = re.compile(rb"(?<!end)stream\r?\n")
_OBJECTS = re.compile(_spelled("ObjStm") + _END)
_PACKED = re.compile(_spelled("Filter") + _END)
_ODDLY_PACKED = re.compile(_spelled("Predictor") + _END + rb"|\[" + _GAP + rb"/[^\]/]+/")


def pdf_flaw(content: bytes) -> tuple[str, str] | None:
    """What is wrong with the bytes of a PDF, and how to mend it; None: nothing is seen."""
    if problem := _cut(content):
        return problem, "get the whole file again, or scan the certificate"
    if _ENCRYPT.search(content):
        return "the PDF is encrypted, so that nobody can see what it holds", _ANEW.replace(
            "without it", "without a password"
        )
    if active := _active(content):
        return f"the PDF holds {active}", _ANEW
    return _stream_flaw(content)


def _cut(content: bytes) -> str:
    """Its end says where the table of contents is (ISO 32000-1 7.5.5), and is the end."""
    if not re.match(rb"%PDF-[12]\.\d", content):
        return "the PDF does not say of which version it is"
    tail = content[-1024:]
    end = tail.rfind(b"%%EOF")
    if end < 0 or b"startxref" not in content[-2048:]:
        return "the PDF is cut short: its end is missing"
    if tail[end + 5 :].strip(b"\x00\t\n\f\r "):
        return "there is more in the file after the end of the PDF"
    return ""


def _active(part: bytes) -> str:
    """What acts in some bytes; '' where nothing does."""
    for pattern, names in ((_LONG_NAMES, _FORBIDDEN), (_SHORT_NAMES, _SHORT)):
        if (found := pattern.search(part)) and found.lastindex:
            name = list(names)[found.lastindex - 1]
            return f"{names[name]} (/{name})"
    return ""


def _stream_flaw(content: bytes) -> tuple[str, str] | None:
    """What acts in the streams, or why that cannot be seen."""
    unfolded = 0
    for start in (found.end() for found in _STREAM.finditer(content)):
        is_flate = _is_flate(content[start : start + 2])
        if _hides_objects(content, start, is_flate):
            return "the PDF holds objects packed in a way that is not looked into", _ANEW
        if not is_flate:
            continue
        tail = b""
        for part in _unfolded(content, start):
            unfolded += len(part)
            if active := _active(tail + part):
                return f"the PDF holds {active}", _ANEW
            if unfolded > MOST_UNFOLDED:
                problem = f"the PDF unfolds to more than {MOST_UNFOLDED // 2**20} MB"
                return problem, "scan it in grey or with fewer dots an inch"
            tail = part[-_OVERLAP:]
    return None


def _is_flate(head: bytes) -> bool:
    """Say whether two bytes begin zlib data (RFC 1950 2.2: method 8, a multiple of 31)."""
    return len(head) == 2 and head[0] & 0x0F == 8 and int.from_bytes(head) % 31 == 0


def _hides_objects(content: bytes, start: int, is_flate: bool) -> bool:
    """Say whether the stream is one of objects that are packed, and not by Flate alone."""
    before = content[max(0, start - 2048) : start]
    header = before[before.rfind(b"obj") + 3 :]
    if not _OBJECTS.search(header) or not _PACKED.search(header):
        return False
    return not is_flate or bool(_ODDLY_PACKED.search(header))


def _unfolded(content: bytes, start: int) -> Iterator[bytes]:
    """What a Flate stream unfolds to, a piece after another, as far as it can be read."""
    unfolder = zlib.decompressobj()
    for at in range(start, len(content), _READ_AT_ONCE):
        packed = content[at : at + _READ_AT_ONCE]
        while packed and not unfolder.eof:
            try:
                part = unfolder.decompress(packed, _AT_ONCE)
            except zlib.error:
                return
            packed = unfolder.unconsumed_tail
            if part:
                yield part
        if unfolder.eof:
            return
