"""What has been recorded cannot be changed, whichever way it is tried."""

# ruff: noqa: S608 (the names of tables are our own)
from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest
import sqlalchemy as sa

from fleet.domain.evidence import Attachment
from fleet.errors import AppendOnly
from fleet.services.ports import HolidayYear
from fleet.storage import SqlStore
from fleet.storage.chains import append_lines
from fleet.storage.engines import parse_url
from fleet.storage.schema import APPEND_ONLY, METADATA, tombstone
from tests.fleet.storage.examples import ENTRY, STAMP, add, engine_of, load_units

TABLES = sorted(set(APPEND_ONLY) - {"attachment_content"})
"""Those that hold lines of chains; the content of an attachment has a test of its own."""


@pytest.fixture
def full_store(store: SqlStore) -> SqlStore:
    """A fleet with a line in each append-only table."""
    load_units(store)
    add(store, ENTRY)
    with store.begin(write=True) as record:
        record.add_book("text", "0" * 64, True, STAMP)
        record.add_holiday_years([HolidayYear("US", "NE", 2026, {}, "by hand")], STAMP)
        record.attach(Attachment("f" * 64, "report.pdf", "application/pdf", 4), b"%PDF", STAMP)
        record.seal(STAMP)
        line = ("entry/M-001", 1, ENTRY.key, "0" * 64, "0" * 64, "its time was over")
        columns = ("of_chain", "of_seq", "key", "of_hash", "left_hash", "reason")
        append_lines(record._connection, tombstone, columns, [line], STAMP)
        record.commit()
    return store


def refused(url: str, statement: str) -> str:
    """Run a statement as one with the database in hand would; answers how it is refused."""
    engine = engine_of(url)
    with pytest.raises(sa.exc.DBAPIError) as refusal, engine.begin() as connection:
        connection.exec_driver_sql(statement)
    engine.dispose()
    return str(refusal.value.orig).splitlines()[0]


def lines(url: str, table: str) -> list[tuple[object, ...]]:
    engine = engine_of(url)
    with engine.connect() as connection:
        found = [tuple(row) for row in connection.exec_driver_sql(f"SELECT * FROM {table}")]
    engine.dispose()
    return found


def copied(table: str) -> str:
    """The select list of a line as it stands, under another author: what a forger would insert."""
    columns = METADATA.tables[table].columns.keys()
    return ", ".join("'forger'" if name == "by" else f'"{name}"' for name in columns)


@pytest.mark.usefixtures("full_store")
@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize(
    "attempt", ["UPDATE {0} SET by = 'forger'", "DELETE FROM {0}", "DELETE FROM {0} WHERE seq = 1"]
)
def test_line_cannot_be_changed_or_removed(fleet_url: str, table: str, attempt: str) -> None:
    before = lines(fleet_url, table)

    message = refused(fleet_url, attempt.format(table))

    assert message == f"append-only: a line of {table} is never changed or removed"
    assert lines(fleet_url, table) == before


@pytest.mark.usefixtures("full_store")
@pytest.mark.parametrize("table", TABLES)
def test_line_cannot_be_upserted(fleet_url: str, table: str) -> None:
    before = lines(fleet_url, table)
    key = ", ".join(column.name for column in METADATA.tables[table].primary_key)

    message = refused(
        fleet_url,
        f"INSERT INTO {table} SELECT {copied(table)} FROM {table} WHERE seq = 1"
        f" ON CONFLICT ({key}) DO UPDATE SET by = 'forger'",
    )

    assert message == f"append-only: a line of {table} is never changed or removed"
    assert lines(fleet_url, table) == before


@pytest.mark.usefixtures("full_store")
@pytest.mark.parametrize(
    "attempt",
    [
        "UPDATE attachment_content SET content = 'forged'",
        "DELETE FROM attachment_content",
        "INSERT INTO attachment_content SELECT * FROM attachment_content WHERE true"
        " ON CONFLICT (sha256) DO UPDATE SET content = excluded.content",
    ],
)
def test_the_content_of_an_attachment_cannot_be_changed(fleet_url: str, attempt: str) -> None:
    before = lines(fleet_url, "attachment_content")

    message = refused(fleet_url, attempt)

    assert message == "append-only: a line of attachment_content is never changed or removed"
    assert lines(fleet_url, "attachment_content") == before


@pytest.mark.usefixtures("full_store")
@pytest.mark.parametrize("empty_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize("table", TABLES)
def test_line_cannot_be_replaced_even_by_a_connection_with_sqlite_s_defaults(
    fleet_url: str, table: str
) -> None:
    before = lines(fleet_url, table)
    replace_it = f"INSERT OR REPLACE INTO {table} SELECT {copied(table)} FROM {table} WHERE seq = 1"
    with closing(sqlite3.connect(parse_url(fleet_url).database or "")) as plain:
        assert plain.execute("PRAGMA recursive_triggers").fetchone() == (0,)
        with pytest.raises(sqlite3.IntegrityError) as refusal:
            plain.execute(replace_it)
        plain.commit()

    assert str(refusal.value) == f"append-only: a line of {table} is never changed or removed"
    assert lines(fleet_url, table) == before


@pytest.mark.postgres
@pytest.mark.usefixtures("full_store")
@pytest.mark.parametrize("empty_url", ["postgresql"], indirect=True)
@pytest.mark.parametrize("table", sorted(APPEND_ONLY))
def test_table_cannot_be_truncated(fleet_url: str, table: str) -> None:
    message = refused(fleet_url, f"TRUNCATE {table} CASCADE")

    assert message == f"append-only: a line of {table} is never changed or removed"


def test_store_says_what_was_refused(full_store: SqlStore) -> None:
    with (
        pytest.raises(
            AppendOnly, match=r"^append-only: a line of entry is never changed or removed$"
        ),
        full_store.begin(write=True) as record,
    ):
        record._connection.exec_driver_sql("UPDATE entry SET by = 'forger'")


def test_entry_after_the_last_is_let_through(full_store: SqlStore) -> None:
    add(full_store, replace(ENTRY, key="another"))

    with full_store.begin() as record:
        assert [line.seq for line in record.entries()] == [1, 2]
