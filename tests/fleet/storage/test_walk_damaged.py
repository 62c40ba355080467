"""Is a damaged file told as such a change, and a missing trigger too?"""

# ruff: noqa: S608 (the names of tables are our own)
from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from fleet.domain.chain import Flaw
from fleet.storage import SqlStore, upgrade
from fleet.storage.engines import file_of, parse_url
from tests.fleet.storage.examples import engine_of
from tests.fleet.storage.tampering import fill, tamper
from tests.fleet.storage.test_walk import CHANGED, SECOND, flaws_of


@pytest.mark.parametrize(
    ("table", "on_sqlite", "on_postgresql"),
    [
        ("entry", "DROP TRIGGER entry_no_update", "ALTER TABLE entry DISABLE TRIGGER USER"),
        ("seal", "DROP TRIGGER seal_no_replace", "DROP TRIGGER seal_no_truncate ON seal"),
    ],
)
def test_a_missing_trigger_is_named_and_upgrade_puts_it_back(
    store: SqlStore, fleet_url: str, table: str, on_sqlite: str, on_postgresql: str
) -> None:
    fill(store)
    engine = engine_of(fleet_url)
    statement = on_sqlite if engine.dialect.name == "sqlite" else on_postgresql
    with engine.begin() as connection:
        connection.exec_driver_sql(statement)
    engine.dispose()
    problem = (
        "nothing keeps its lines from being changed: a trigger is missing, altered or switched"
        " off; dueward upgrade puts it back"
    )
    assert flaws_of(store) == [Flaw("triggers", None, table, problem)]

    assert upgrade(fleet_url) is None

    assert flaws_of(store) == []


@pytest.mark.parametrize("empty_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize(
    ("value", "key"),
    [
        ("CAST(x'66ff6f' AS TEXT)", "other"),
        ("x'6f'", "other"),
    ],
)
def test_bytes_that_are_no_text_are_a_change_like_any_other(
    store: SqlStore, value: str, key: str
) -> None:
    """A byte of the file itself was edited: SQLite gives it as it is."""
    fill(store)
    tamper(store, f"UPDATE entry SET note = {value} WHERE {SECOND} AND seq = 1")

    assert flaws_of(store) == [Flaw("entry/M-002", 1, key, CHANGED)]


@pytest.mark.parametrize("empty_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize("value", ["'text'", "7", "x''"])
def test_a_hash_of_another_kind_fits_nothing(store: SqlStore, value: str) -> None:
    fill(store)
    tamper(store, f"UPDATE chain_head SET hash = {value} WHERE chain = 'entry/M-002'")

    problem = "the chain's head knows it by another hash"
    assert flaws_of(store) == [Flaw("entry/M-002", 2, "other-2", problem)]


@pytest.mark.parametrize("empty_url", ["sqlite"], indirect=True)
def test_a_damaged_index_is_told_by_the_database_itself(store: SqlStore, fleet_url: str) -> None:
    """No chain covers an index; that of the keys says which entry is one."""
    fill(store)
    file = file_of(parse_url(fleet_url))
    assert file is not None
    with closing(sqlite3.connect(file)) as plain:
        plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        query = "SELECT rootpage FROM sqlite_master WHERE name = 'sqlite_autoindex_entry_2'"
        (page,) = plain.execute(query).fetchone()
        (size,) = plain.execute("PRAGMA page_size").fetchone()
    content = bytearray(file.read_bytes())
    start = (page - 1) * size
    at = content.index(b"full", start, start + size)
    content[at] ^= 1
    file.write_bytes(content)

    (flaw,) = flaws_of(store)

    assert flaw.chain == "file"
    assert flaw.problem.startswith("SQLite's integrity check finds: ")
