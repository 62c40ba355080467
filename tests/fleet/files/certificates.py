"""Certificates made by hand, byte by byte, and what makes them fit or unfit to be kept."""

from __future__ import annotations

import struct
import zlib

__all__ = ["JPEG", "PLAIN_PDF", "PNG", "TIFF", "object_stream", "pdf", "png_chunk", "stream"]

_PAGE = (
    b"2 0 obj <</Type/Pages/Kids[3 0 R]/Count 1>> endobj\n"
    b"3 0 obj <</Type/Page/Parent 2 0 R/MediaBox[0 0 99 99]>> endobj\n"
)


def pdf(*objects: bytes, catalog: bytes = b"", trailer: bytes = b"", end: bytes = b"") -> bytes:
    """A PDF of one empty page with more objects in it (ISO 32000-1 7.5, without an xref table)."""
    body = b"%PDF-1.7\n1 0 obj <</Type/Catalog/Pages 2 0 R" + catalog + b">> endobj\n" + _PAGE
    body += b"".join(b"%d 0 obj %s\nendobj\n" % (n, one) for n, one in enumerate(objects, start=4))
    end_of_file = b"trailer <</Root 1 0 R/Size 4" + trailer + b">>\nstartxref\n9\n%%EOF\n"
    return body + end_of_file + end


def stream(content: bytes, dictionary: bytes = b"/Filter/FlateDecode") -> bytes:
    """A stream object; the content stands as it is given."""
    return b"<<%s/Length %d>>\nstream\n%s\nendstream" % (dictionary, len(content), content)


def object_stream(content: bytes, dictionary: bytes = b"/Filter/FlateDecode") -> bytes:
    """A stream of objects, packed (ISO 32000-1 7.5.7)."""
    inside = b"9 0 " + content
    return stream(zlib.compress(inside), b"/Type/ObjStm/N 1/First 4" + dictionary)


def png_chunk(kind: bytes, data: bytes) -> bytes:
    """A chunk of a PNG with its length and check sum (ISO/IEC 15948 5.3)."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


PLAIN_PDF = pdf(stream(zlib.compress(b"BT (Invented certificate) Tj ET")))
PNG = (
    b"\x89PNG\r\n\x1a\n"
    + png_chunk(b"IHDR", struct.pack(">2I5B", 1, 1, 8, 0, 0, 0, 0))
    + png_chunk(b"IDAT", zlib.compress(b"\x00\x00"))
    + png_chunk(b"IEND", b"")
)
JPEG = (
    b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"
    b"\xff\xc0\x00\x0b\x08\x00\x01\x00\x01\x01\x01\x11\x00"
    b"\xff\xda\x00\x08\x01\x01\x00\x00?\x00\x00\xff\xd9"
)
TIFF = b"II*\x00\x08\x00\x00\x00" + struct.pack(
    "<H2HIHH2HIHHI", 2, 256, 3, 1, 1, 0, 257, 3, 1, 1, 0, 0
)
