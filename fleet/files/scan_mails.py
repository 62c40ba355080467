"""Which files are attached to mails, as a fax service sends its pages?"""

from __future__ import annotations

import mailbox
import tempfile
from collections.abc import Iterator
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Final

__all__ = ["is_mail", "parts_of_mail"]

_SUFFIXES: Final = (".mbox", ".eml", ".mbx")
_KINDS: Final = ("image/", "application/pdf")
_FILES: Final = (".pdf", ".tif", ".tiff", ".png", ".jpg", ".jpeg", ".webp", ".bmp", ".heic")
_MOST_MAILS: Final = 2_000


def is_mail(name: str, content: bytes) -> bool:
    """Say whether a file is a mail or a box of mails, by its name or its first line."""
    return name.lower().endswith(_SUFFIXES) or content[:5] == b"From "


def parts_of_mail(name: str, content: bytes) -> Iterator[tuple[str, bytes]]:
    """The pictures and PDFs attached to a mail, or to those of a box: a name each, and its bytes.

    Those of mails that were passed on are among them. The name tells the box, which mail of it,
    and what the sender called the file.
    """
    is_box = content[:5] == b"From "
    for number, mail in enumerate(_mails(content) if is_box else (content,), 1):
        place = f"{name}, mail {number}" if is_box else name
        yield from _parts(place, mail)


def _mails(content: bytes) -> Iterator[bytes]:
    with tempfile.TemporaryDirectory(prefix="dueward-") as folder:
        path = Path(folder) / "box"
        path.write_bytes(content)
        box = mailbox.mbox(path, create=False)
        try:
            for number, key in enumerate(box.iterkeys()):
                if number < _MOST_MAILS:
                    yield box.get_bytes(key)
        finally:
            box.close()


def _parts(place: str, mail: bytes) -> Iterator[tuple[str, bytes]]:
    message = message_from_bytes(mail, policy=policy.default)
    for turn, part in enumerate(message.walk(), 1):
        if not isinstance(part, EmailMessage) or part.is_multipart():
            continue
        called = _called(part)
        if not (part.get_content_type().startswith(_KINDS) or called.lower().endswith(_FILES)):
            continue
        content = part.get_payload(decode=True)
        if isinstance(content, bytes) and content:
            yield f"{place}, {called or f'part {turn}'}", content


def _called(part: EmailMessage) -> str:
    """What the sender called a part; '' where its head cannot be read."""
    try:
        return Path((part.get_filename() or "").replace("\\", "/")).name
    except (ValueError, LookupError, AttributeError):
        return ""
