"""How are rule books kept? Whole, one after another, in a chain of their own."""

from __future__ import annotations

from datetime import datetime

import sqlalchemy as sa

from fleet.domain.register import BookText
from fleet.services.ports import Stamp
from fleet.storage.chains import append_lines
from fleet.storage.schema import rule_book

__all__ = ["add_book", "read_book"]


def read_book(connection: sa.Connection, known_at: datetime | None) -> BookText | None:
    """The latest book, or the latest known at an instant; None where there is none."""
    book = rule_book.c
    query = sa.select(book.text, book.sha256, book.stored_at).order_by(book.seq.desc()).limit(1)
    if known_at is not None:
        query = query.where(sa.or_(book.initial, book.stored_at <= known_at))
    row = connection.execute(query).one_or_none()
    return row and BookText(text=row.text, sha256=row.sha256, stored_at=row.stored_at)


def add_book(
    connection: sa.Connection, text: str, sha256: str, initial: bool, stamp: Stamp
) -> None:
    """Append a rule book."""
    columns = ("text", "sha256", "initial")
    append_lines(connection, rule_book, columns, [(text, sha256, initial)], stamp)
