"""One of several processes leads, and another takes over when it is gone."""

from __future__ import annotations

import datetime as dt

import pytest
import sqlalchemy as sa

from fleet.storage import SqlStore, open_store
from fleet.storage.leadership import AdvisoryLeadership, LeaseLeadership
from tests.fleet.storage.examples import engine_of

NOW = dt.datetime(2026, 11, 30, 13, 0, tzinfo=dt.UTC)
LEASE = dt.timedelta(seconds=150)


def test_one_leads_and_the_others_wait_until_it_gives_up(store: SqlStore, fleet_url: str) -> None:
    other_store = open_store(fleet_url, clock=lambda: NOW)
    first, second = store.leadership("first"), other_store.leadership("second")

    assert first.is_leader(NOW, LEASE)
    assert not second.is_leader(NOW, LEASE)
    assert first.is_leader(NOW + LEASE / 2, LEASE)
    first.give_up()
    assert second.is_leader(NOW + LEASE * 1.5, LEASE)
    assert not first.is_leader(NOW + LEASE * 1.5, LEASE)
    second.give_up()
    third = other_store.leadership("third")
    assert third.is_leader(NOW + LEASE * 1.5, LEASE)
    third.give_up()
    other_store.close()


def leases(store: SqlStore) -> tuple[LeaseLeadership, LeaseLeadership]:
    first, second = store.leadership("first"), store.leadership("second")
    assert isinstance(first, LeaseLeadership)
    assert isinstance(second, LeaseLeadership)
    return first, second


class TestOnSqlite:
    """A lease: a process that hangs or is killed loses it when its time is over."""

    def test_who_stops_renewing_loses_the_lead(self, sqlite_store: SqlStore) -> None:
        first, second = leases(sqlite_store)
        first.is_leader(NOW, LEASE)

        assert not second.is_leader(NOW + LEASE - dt.timedelta(seconds=1), LEASE)
        assert second.is_leader(NOW + LEASE, LEASE)
        assert not first.is_leader(NOW + LEASE + dt.timedelta(seconds=1), LEASE)
        with sqlite_store.begin() as record:
            row = record.mail.worker("timetable")
        assert row is not None
        assert (row.owner, row.term) == ("second", 2)

    def test_a_lease_is_renewed_only_when_half_of_it_is_gone(self, sqlite_store: SqlStore) -> None:
        first, _ = leases(sqlite_store)
        first.is_leader(NOW, LEASE)

        def until() -> dt.datetime | None:
            with sqlite_store.begin() as record:
                row = record.mail.worker("timetable")
            return None if row is None else row.until_at

        first.is_leader(NOW + LEASE * 0.4, LEASE)
        assert until() == NOW + LEASE
        first.is_leader(NOW + LEASE * 0.6, LEASE)
        assert until() == NOW + LEASE * 1.6

    def test_a_lease_from_a_clock_that_was_far_ahead_holds_nobody_up(
        self, sqlite_store: SqlStore
    ) -> None:
        first, second = leases(sqlite_store)
        first.is_leader(NOW + dt.timedelta(days=3), LEASE)

        assert second.is_leader(NOW, LEASE)


@pytest.mark.postgres
def test_on_postgresql_the_lead_ends_with_its_connection(
    postgresql_store: SqlStore, postgresql_url: str
) -> None:
    first, second = postgresql_store.leadership("first"), postgresql_store.leadership("second")
    assert isinstance(first, AdvisoryLeadership)
    assert first.is_leader(NOW, LEASE)
    assert not second.is_leader(NOW, LEASE)

    engine = engine_of(postgresql_url)
    with engine.connect() as connection:
        query = (
            "SELECT pid FROM pg_locks JOIN pg_database ON pg_database.oid = database"
            " WHERE locktype = 'advisory' AND objid = :of AND datname = current_database()"
        )
        (pid,) = connection.execute(sa.text(query), {"of": 0x64756574}).scalars()
        connection.exec_driver_sql(f"SELECT pg_terminate_backend({pid})")
    engine.dispose()

    assert second.is_leader(NOW, LEASE)
    assert not first.is_leader(NOW, LEASE)
    second.give_up()
