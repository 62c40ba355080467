"""How are attached files kept? A chained line each, and the content apart, under its own hash."""

from __future__ import annotations

import sqlalchemy as sa

from fleet.domain.evidence import Attachment
from fleet.services.ports import Stamp
from fleet.storage.chains import append_lines
from fleet.storage.schema import attachment, attachment_content

__all__ = ["add_attachment", "add_content", "read_attachments", "read_content"]

_COLUMNS = ("sha256", "name", "media_type", "size")


def read_attachments(connection: sa.Connection) -> list[Attachment]:
    """Every file that was attached, in the order they came."""
    query = sa.select(*(attachment.c[name] for name in _COLUMNS)).order_by(attachment.c.seq)
    return [Attachment(*row) for row in connection.execute(query)]


def read_content(connection: sa.Connection, sha256: str) -> bytes | None:
    """The content of an attachment; None where it is unknown or was removed."""
    query = sa.select(attachment_content.c.content).where(attachment_content.c.sha256 == sha256)
    content = connection.execute(query).scalar_one_or_none()
    return None if content is None else bytes(content)


def add_attachment(
    connection: sa.Connection, file: Attachment, content: bytes, stamp: Stamp
) -> None:
    """Keep a file; one that is kept already stays as it is."""
    known = sa.select(attachment.c.seq).where(attachment.c.sha256 == file.sha256)
    if connection.execute(known).first() is not None:
        return
    line = (file.sha256, file.name, file.media_type, file.size)
    append_lines(connection, attachment, _COLUMNS, [line], stamp)
    add_content(connection, file.sha256, content)


def add_content(connection: sa.Connection, sha256: str, content: bytes) -> None:
    """Keep the content of an attachment whose line stands."""
    row = {"sha256": sha256, "content": content}
    connection.execute(sa.insert(attachment_content), row)
