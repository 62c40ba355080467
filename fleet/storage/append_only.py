"""What keeps recorded lines from being changed or removed? Triggers, on both databases.

They make the record tamper-evident, not tamper-proof: who owns the file or the schema can drop
them, and then the hash chain tells. A batch migration of a table drops its triggers on SQLite, so
every migration ends with `install`, and a test compares what is there with `expected_triggers`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import sqlalchemy as sa

__all__ = ["REFUSAL", "expected_triggers", "install", "unguarded"]

REFUSAL = "append-only"
"""The word by which a refusal of these triggers is known."""

_UNIQUE: Mapping[str, tuple[str, ...]] = {
    "entry": ("key = NEW.key", "unit_id = NEW.unit_id AND seq = NEW.seq"),
    "change_line": ("chain = NEW.chain AND seq = NEW.seq",),
    "rule_book": ("seq = NEW.seq",),
    "holiday_year": ("seq = NEW.seq",),
    "attachment": ("seq = NEW.seq", "sha256 = NEW.sha256"),
    "attachment_content": ("sha256 = NEW.sha256",),
    "tombstone": ("seq = NEW.seq",),
    "seal": ("seq = NEW.seq",),
}
"""For each table, what must not stand there yet when a line is inserted."""


def install(connection: sa.Connection) -> None:
    """Make the triggers of the append-only tables that are there, standing triggers anew."""
    tables = [table for table in _UNIQUE if sa.inspect(connection).has_table(table)]
    if connection.dialect.name == "sqlite":
        for name, statement in expected_triggers(tables).items():
            connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {name}")
            connection.exec_driver_sql(statement)
        return
    connection.execute(sa.text(_POSTGRESQL_FUNCTION))
    for table in tables:
        for name, event, level in _postgresql_triggers(table):
            connection.exec_driver_sql(
                f"CREATE OR REPLACE TRIGGER {name} BEFORE {event} ON {table}"
                f" FOR EACH {level} EXECUTE FUNCTION refuse_change()"
            )
            connection.exec_driver_sql(f"ALTER TABLE {table} ENABLE TRIGGER {name}")


def unguarded(connection: sa.Connection) -> list[str]:
    """Name the append-only tables of which a trigger is missing, altered or switched off."""
    if connection.dialect.name == "sqlite":
        rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master")
        standing = {name: statement for name, statement in rows}  # noqa: C416 - not rows
        return [
            table
            for table in _UNIQUE
            if any(standing.get(n) != made for n, made in expected_triggers([table]).items())
        ]
    rows = connection.exec_driver_sql(
        "SELECT tgname FROM pg_trigger WHERE tgenabled = 'O' AND NOT tgisinternal"
    )
    names = set(rows.scalars())
    return [
        table
        for table in _UNIQUE
        if any(name not in names for name, _, _ in _postgresql_triggers(table))
    ]


def _postgresql_triggers(table: str) -> tuple[tuple[str, str, str], ...]:
    """Name, event and level of the triggers of a table."""
    return (
        (f"{table}_no_change", "UPDATE OR DELETE", "ROW"),
        (f"{table}_no_truncate", "TRUNCATE", "STATEMENT"),
    )


def expected_triggers(tables: Collection[str] = tuple(_UNIQUE)) -> dict[str, str]:
    """Name every SQLite trigger these tables must have, with the statement that makes it."""
    triggers: dict[str, str] = {}
    for table in tables:
        taken = _UNIQUE[table]
        refuse = f"SELECT RAISE(ABORT, '{REFUSAL}: a line of {table} is never changed or removed')"
        for event in ("UPDATE", "DELETE"):
            name = f"{table}_no_{event.lower()}"
            triggers[name] = f"CREATE TRIGGER {name} BEFORE {event} ON {table} BEGIN {refuse}; END"
        # INSERT OR REPLACE fires no DELETE trigger unless a connection asks for recursive ones.
        stands = " OR ".join(
            f"EXISTS (SELECT 1 FROM {table} WHERE {condition})"  # noqa: S608
            for condition in taken
        )
        name = f"{table}_no_replace"
        triggers[name] = (
            f"CREATE TRIGGER {name} BEFORE INSERT ON {table} WHEN {stands} BEGIN {refuse}; END"
        )
    return triggers


_POSTGRESQL_FUNCTION = f"""
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '{REFUSAL}: a line of % is never changed or removed', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END $$
"""
