"""Is this a whole picture? PNG, JPEG and TIFF, as far as their own tables of contents say.

The points of the picture are not unpacked: a viewer may still find fault with them.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator

__all__ = ["picture_flaw", "picture_type"]

_MAGIC = {
    b"\x89PNG\r\n\x1a\n": "image/png",
    b"\xff\xd8\xff": "image/jpeg",
    b"II*\x00": "image/tiff",
    b"MM\x00*": "image/tiff",
}
"""PNG (ISO/IEC 15948) 5.2; JPEG (ITU-T T.81) B.2.1; TIFF 6.0 section 2."""

_CUT = "the picture is cut short"


def picture_type(content: bytes) -> str:
    """The media type that the first bytes tell; '' where they tell none."""
    return next((kind for magic, kind in _MAGIC.items() if content.startswith(magic)), "")


def picture_flaw(content: bytes) -> str | None:
    """What is wrong with bytes of which `picture_type` knows the type; None: nothing is seen."""
    judge = {"image/png": _png_flaw, "image/jpeg": _jpeg_flaw, "image/tiff": _tiff_flaw}
    try:
        return judge[picture_type(content)](content)
    except (struct.error, IndexError):
        return _CUT


def _png_flaw(content: bytes) -> str | None:
    """Every chunk with its check sum, from IHDR to IEND, and nothing after (PNG 5.3 and 5.6)."""
    at, is_first = 8, True
    while True:
        size, kind = struct.unpack_from(">I4s", content, at)
        end = at + 12 + size
        (check,) = struct.unpack_from(">I", content, end - 4)
        if zlib.crc32(memoryview(content)[at + 4 : end - 4]) != check:
            return "the picture is damaged (a PNG check sum does not hold)"
        size_given = struct.unpack_from(">2I", content, 16)
        if is_first and (kind != b"IHDR" or size != 13 or 0 in size_given):
            return "the PNG has no header with its width and height"
        if kind == b"IEND":
            return None if end == len(content) else "there is more in the file after the picture"
        at, is_first = end, False


_FRAMES = {*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC}
"""JPEG markers that give the size of the picture (T.81 table B.1)."""


def _jpeg_flaw(content: bytes) -> str | None:
    """A frame with a size, then a scan, then the end of the picture (T.81 B.2.1, B.2.2)."""
    has_size = False
    for marker, at in _segments(content):
        if marker in _FRAMES:
            height, width = struct.unpack_from(">2H", content, at + 5)
            has_size = width > 0 and height > 0
        elif marker == 0xDA:
            if not has_size:
                break
            return None if content.find(b"\xff\xd9", at) > 0 else _CUT
    return "the JPEG has no frame with its width and height"


def _segments(content: bytes) -> Iterator[tuple[int, int]]:
    """Each marker of a JPEG up to the end, and where its length stands."""
    at = 2
    while content[at] == 0xFF:
        marker = content[at + 1]
        if marker == 0xFF:  # a fill byte (T.81 B.1.1.2)
            at += 1
            continue
        yield marker, at + 2
        (size,) = struct.unpack_from(">H", content, at + 2)
        at += 2 + size


def _tiff_flaw(content: bytes) -> str | None:
    """A first directory within the file that gives width (256) and length (257), TIFF 6.0."""
    order = "<" if content.startswith(b"II") else ">"
    (at,) = struct.unpack_from(f"{order}I", content, 4)
    (count,) = struct.unpack_from(f"{order}H", content, at)
    tags = [struct.unpack_from(f"{order}H", content, at + 2 + 12 * n)[0] for n in range(count)]
    struct.unpack_from(f"{order}I", content, at + 2 + 12 * count)
    return None if {256, 257} <= set(tags) else "the TIFF does not give its width and height"
