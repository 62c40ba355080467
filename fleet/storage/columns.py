"""How do instants and words stand in a column, the same way on both databases?"""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator, TypeEngine

from fleet.storage.canonical import instant_text

__all__ = ["Instant", "word"]


class Instant(TypeDecorator[dt.datetime]):
    """A UTC instant: timestamptz on PostgreSQL, text of one width on SQLite, so that it sorts.

    Takes no instant without a time zone (ValueError, which SQLAlchemy wraps in StatementError).
    """

    impl = sa.String(27)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Choose the column's type by the database."""
        kind: TypeEngine[Any] = sa.String(27)
        if dialect.name == "postgresql":
            kind = postgresql.TIMESTAMP(timezone=True)
        return dialect.type_descriptor(kind)

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> object:
        """Write an instant; an instant without a zone is refused."""
        if value is None:
            return None
        text = instant_text(value)
        return value if dialect.name == "postgresql" else text

    def process_result_value(self, value: object, dialect: Dialect) -> dt.datetime | None:
        """Read an instant, always in UTC."""
        if isinstance(value, str):
            return dt.datetime.fromisoformat(value)
        return value.astimezone(dt.UTC) if isinstance(value, dt.datetime) else None


def word(of: type[StrEnum], length: int = 16) -> sa.Enum:
    """Make a text column that holds the values of an enumeration and reads back as its members."""
    return sa.Enum(
        of,
        native_enum=False,
        create_constraint=False,
        length=length,
        values_callable=lambda members: [member.value for member in members],
    )
