"""Where do all tables of the schema stand together, and how are their plain columns written?"""

from __future__ import annotations

import sqlalchemy as sa

__all__ = ["METADATA", "day", "text"]

METADATA = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def text(name: str, *, key: bool = False) -> sa.Column[str]:
    """Make a column of text that is never null."""
    return sa.Column(name, sa.Text, nullable=False, primary_key=key)


def day(name: str, *, key: bool = False, empty: bool = False) -> sa.Column[object]:
    """Make a column of civil dates."""
    return sa.Column(name, sa.Date, nullable=empty, primary_key=key)
