"""What may the group of logins do that run the program on PostgreSQL?

Rights belong to tables, so they are granted again whenever a migration makes one.
"""

from __future__ import annotations

import sqlalchemy as sa

from fleet.storage.schema import APPEND_ONLY, METADATA

__all__ = ["GROUP", "grant_again", "has_role", "tables_of"]

GROUP = "dueward_app"
"""The role whose members run the program; it cannot log in itself."""

_VERSION = "alembic_version"


def grant_again(connection: sa.Connection) -> None:
    """Give the group its rights on the tables that are there; nothing on SQLite or without it."""
    if connection.dialect.name != "postgresql" or not has_role(connection, GROUP):
        return
    schema = connection.exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one()
    for table in tables_of(connection):
        connection.exec_driver_sql(f"REVOKE ALL ON TABLE {table} FROM {GROUP}")
        connection.exec_driver_sql(f"GRANT {_rights(table)} ON TABLE {table} TO {GROUP}")
    connection.exec_driver_sql(f"GRANT USAGE ON SCHEMA {schema} TO {GROUP}")
    if (sequence := _sequence(connection)) is not None:
        connection.exec_driver_sql(f"GRANT USAGE, SELECT ON SEQUENCE {sequence} TO {GROUP}")


def tables_of(connection: sa.Connection) -> list[str]:
    """The program's tables that are there."""
    there = set(sa.inspect(connection).get_table_names())
    return sorted(there & {*METADATA.tables, _VERSION})


def has_role(connection: sa.Connection, name: str) -> bool:
    """Say whether there is a role of this name."""
    query = sa.text("SELECT count(*) FROM pg_roles WHERE rolname = :name")
    return bool(connection.execute(query, {"name": name}).scalar_one())


def _sequence(connection: sa.Connection) -> str | None:
    """What numbers the units, the only table that the database counts; backups read it too."""
    if "unit" not in tables_of(connection):
        return None
    query = "SELECT pg_get_serial_sequence('unit', 'id')"
    return str(connection.exec_driver_sql(query).scalar_one())


def _rights(table: str) -> str:
    if table == _VERSION:
        return "SELECT"
    return "SELECT, INSERT" if table in APPEND_ONLY else "SELECT, INSERT, UPDATE, DELETE"
