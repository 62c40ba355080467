"""How a connection is set up, so that a transaction means what the program takes it to mean."""

from __future__ import annotations

from contextlib import closing

import pytest
import sqlalchemy as sa

from fleet.storage import open_store
from fleet.storage.engines import make_engine, parse_url
from tests.fleet.storage.examples import STAMP


@pytest.mark.parametrize("empty_url", ["sqlite"], indirect=True)
def test_sqlite_connection_is_safe(fleet_url: str) -> None:
    """Values as the SQLite manual (pragma) gives them: synchronous 2 is FULL."""
    expected = {
        "foreign_keys": 1,
        "journal_mode": "wal",
        "synchronous": 2,
        "recursive_triggers": 1,
        "busy_timeout": 5000,
    }
    with make_engine(parse_url(fleet_url)).connect() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one() for name in expected
        }

    assert found == expected


@pytest.mark.parametrize("empty_url", ["sqlite"], indirect=True)
def test_rolled_back_transaction_takes_released_savepoints_with_it(fleet_url: str) -> None:
    """What the driver's own transactions do not do."""
    with make_engine(parse_url(fleet_url)).connect() as connection:
        connection = connection.execution_options(dueward_write=True)
        with connection.begin() as transaction:
            with connection.begin_nested():
                connection.exec_driver_sql("CREATE TABLE trial (id INTEGER)")
            transaction.rollback()

        assert "trial" not in sa.inspect(connection).get_table_names()


@pytest.mark.postgres
@pytest.mark.parametrize("empty_url", ["postgresql"], indirect=True)
def test_postgresql_reader_is_read_only_and_speaks_utc(fleet_url: str) -> None:
    names = ("transaction_isolation", "transaction_read_only", "TimeZone", "lock_timeout")
    with closing(open_store(fleet_url, clock=lambda: STAMP.at)) as store, store.begin() as record:
        found = [record._connection.exec_driver_sql(f"SHOW {name}").scalar_one() for name in names]

    assert found == ["repeatable read", "on", "UTC", "5s"]
