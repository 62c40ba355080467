"""Can the program run on PostgreSQL as one who has no right to change the record?

What a role may do is PostgreSQL's own answer (manual, chapter 5.8), asked as that role.
"""

# ruff: noqa: S608 (the names of tables are our own)
from __future__ import annotations

import base64
import hashlib
import hmac
import itertools
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace

import pytest
import sqlalchemy as sa

from fleet.domain.records import Outage
from fleet.domain.register import Change
from fleet.errors import BadInput, StoreError
from fleet.storage import create
from fleet.storage.engines import parse_url
from fleet.storage.role_grants import grant_again
from fleet.storage.roles import add_login
from fleet.storage.schema import APPEND_ONLY, METADATA
from tests.fleet.storage.examples import ENTRY, STAMP, add, engine_of, load_units, open_now
from tests.fleet.storage.tampering import fill

SERIAL = itertools.count(1)

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.parametrize("empty_url", ["postgresql"], indirect=True),
]


@pytest.fixture
def login() -> str:
    """A login that there is not yet; roles belong to the whole server."""
    return f"web {next(SERIAL)}"


@pytest.fixture
def app_url(fleet_url: str, login: str) -> str:
    """The fleet's address for a login that may only add to it."""
    assert add_login(fleet_url, login, None)
    return as_login(fleet_url, login)


@pytest.fixture
def app(app_url: str) -> Iterator[sa.Connection]:
    """A connection of that login to a full record, outside the program."""
    engine = engine_of(app_url)
    with engine.connect() as connection:
        yield connection
    engine.dispose()


def as_login(url: str, login: str) -> str:
    return parse_url(url).set(username=login).render_as_string()


def asked(url: str, query: str) -> object:
    engine = engine_of(url)
    with engine.connect() as connection:
        found = connection.exec_driver_sql(query).scalar()
    engine.dispose()
    return found


def commanded(url: str, statement: str) -> None:
    engine = engine_of(url)
    with engine.begin() as connection:
        connection.exec_driver_sql(statement)
    engine.dispose()


def test_the_program_writes_and_reads_as_the_login(app_url: str) -> None:
    with closing(open_now(app_url)) as store:
        fill(store)
        outage = Outage(property_number="M-003", from_on=ENTRY.on, to_on=None, reason="lamp")
        with store.begin(write=True) as record:
            record.change([Change(old=None, new=outage, initial=False)], STAMP)
            record.change([Change(old=outage, new=None, initial=False)], STAMP)
            record.commit()
        with store.begin() as record:
            assert list(record.flaws(lambda lines: None)) == []
            assert len(list(record.entries())) == 6


@pytest.mark.parametrize("table", APPEND_ONLY)
@pytest.mark.parametrize(
    "attempt",
    [
        "DELETE FROM {0}",
        "TRUNCATE {0}",
        "ALTER TABLE {0} DISABLE TRIGGER ALL",
        "DROP TRIGGER {0}_no_change ON {0}",
        "CREATE TRIGGER mine BEFORE INSERT ON {0} EXECUTE FUNCTION refuse_change()",
        "DROP TABLE {0}",
        "ALTER TABLE {0} OWNER TO CURRENT_USER",
        "UPDATE {0} SET {1} = {1}",
    ],
)
def test_the_login_cannot_change_or_empty_the_record(
    app: sa.Connection, table: str, attempt: str
) -> None:
    column = "sha256" if table == "attachment_content" else "hash"

    with pytest.raises(sa.exc.ProgrammingError) as refusal:
        app.exec_driver_sql(attempt.format(table, column))

    assert getattr(refusal.value.orig, "sqlstate", None) == "42501"  # insufficient_privilege


@pytest.mark.parametrize(
    "attempt",
    [
        "SET session_replication_role = replica",
        "DROP FUNCTION refuse_change() CASCADE",
        "UPDATE alembic_version SET version_num = '0001'",
        "TRUNCATE chain_head",
        "TRUNCATE marked_year",
        "DROP TABLE site CASCADE",
        "SET ROLE owner",
        "CREATE ROLE friend SUPERUSER",
    ],
)
def test_the_login_gets_around_no_other_way(app: sa.Connection, attempt: str) -> None:
    with pytest.raises(sa.exc.ProgrammingError) as refusal:
        app.exec_driver_sql(attempt)

    assert getattr(refusal.value.orig, "sqlstate", None) == "42501"


def test_the_rights_are_the_same_on_every_table_of_its_kind(fleet_url: str, login: str) -> None:
    add_login(fleet_url, login, None)
    wanted = {
        table: {"SELECT", "INSERT"} | (set() if table in APPEND_ONLY else {"UPDATE", "DELETE"})
        for table in METADATA.tables
    } | {"alembic_version": {"SELECT"}}
    words = ("SELECT", "INSERT", "UPDATE", "DELETE", "TRUNCATE", "REFERENCES", "TRIGGER")

    engine = engine_of(fleet_url)
    query = sa.text("SELECT has_table_privilege(:login, :table, :word)")
    with engine.connect() as connection:
        found = {
            table: {
                word
                for word in words
                if connection.scalar(query, {"login": login, "table": table, "word": word})
            }
            for table in wanted
        }
    engine.dispose()

    assert found == wanted


def test_a_table_that_a_migration_makes_is_granted_again(fleet_url: str, login: str) -> None:
    add_login(fleet_url, login, None)
    commanded(fleet_url, "REVOKE ALL ON review FROM dueward_app")
    engine = engine_of(fleet_url)
    with engine.begin() as connection:
        grant_again(connection)
    engine.dispose()

    with closing(open_now(as_login(fleet_url, login))) as store:
        load_units(store)
        add(store, replace(ENTRY, key="after"))


def test_a_second_fleet_on_the_server_is_granted_when_it_is_made(
    app_url: str, login: str, request: pytest.FixtureRequest
) -> None:
    from tests.fleet.conftest import new_postgres_database

    other = new_postgres_database(request.getfixturevalue("postgres_address"))
    create(other)

    with closing(open_now(as_login(other, login))) as store:
        load_units(store)


def test_the_login_cannot_upgrade_or_grant(app_url: str) -> None:
    with pytest.raises(StoreError) as refusal:
        add_login(app_url, "web friend", "never shown")

    assert "this user lacks a right it needs" in str(refusal.value)
    assert "never shown" not in repr(refusal.value)


def test_a_login_that_is_there_is_kept_and_loses_what_it_had_too_much(
    fleet_url: str, login: str
) -> None:
    commanded(fleet_url, f'CREATE ROLE "{login}" LOGIN')
    commanded(fleet_url, f'GRANT ALL ON entry TO "{login}"')

    assert not add_login(fleet_url, login, None)

    query = f"SELECT has_table_privilege('{login}', 'entry', 'UPDATE')"
    assert asked(fleet_url, query) is False


def test_the_owner_is_refused_as_the_login(fleet_url: str) -> None:
    with pytest.raises(StoreError) as refusal:
        add_login(fleet_url, "owner", "never shown")

    assert str(refusal.value) == (
        "'owner' is a superuser or owns these tables, and could change the record whatever is"
        " granted; give another LOGIN, which is made if there is none"
    )


def test_rights_that_others_gave_to_everybody_are_told_and_nothing_is_kept(
    fleet_url: str, login: str
) -> None:
    commanded(fleet_url, "GRANT UPDATE ON entry TO PUBLIC")

    with pytest.raises(StoreError) as refusal:
        add_login(fleet_url, login, None)

    assert str(refusal.value).endswith(
        f": '{login}' has UPDATE on entry by PUBLIC or another role; revoke that, as with REVOKE"
        " UPDATE ON entry FROM PUBLIC"
    )
    assert asked(fleet_url, f"SELECT count(*) FROM pg_roles WHERE rolname = '{login}'") == 0


def test_the_server_is_given_the_password_s_verifier_only(fleet_url: str, login: str) -> None:
    """RFC 5802, section 3, with SHA-256 (RFC 7677): computed here anew from the password."""
    add_login(fleet_url, login, "an invented passphrase")

    kept = str(asked(fleet_url, f"SELECT rolpassword FROM pg_authid WHERE rolname = '{login}'"))
    method, _, rest = kept.partition("$")
    numbers, _, keys = rest.partition("$")
    rounds, salt = numbers.split(":")
    stored_key, server_key = (base64.b64decode(key) for key in keys.split(":"))
    salted = hashlib.pbkdf2_hmac(
        "sha256", b"an invented passphrase", base64.b64decode(salt), int(rounds)
    )
    client_key = hmac.digest(salted, b"Client Key", "sha256")

    assert method == "SCRAM-SHA-256"
    assert stored_key == hashlib.sha256(client_key).digest()
    assert server_key == hmac.digest(salted, b"Server Key", "sha256")


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("", "LOGIN: a login needs a name; give another name, as 'dueward_web'"),
        (
            "pg_mine",
            "LOGIN: 'pg_mine' is a name of PostgreSQL's or of this program's own;"
            " give another name, as 'dueward_web'",
        ),
        (
            "dueward_app",
            "LOGIN: 'dueward_app' is a name of PostgreSQL's or of this program's own;"
            " give another name, as 'dueward_web'",
        ),
        (
            "ä" * 32,
            f"LOGIN: '{'ä' * 32}' is longer than the 63 bytes that PostgreSQL takes;"
            " give another name, as 'dueward_web'",
        ),
    ],
)
def test_a_name_that_is_none_is_refused(fleet_url: str, name: str, message: str) -> None:
    with pytest.raises(BadInput) as refusal:
        add_login(fleet_url, name, None)

    assert str(refusal.value) == message


@pytest.mark.parametrize("name", ['odd "name"', "50%", "O'Hara", "Große"])
def test_an_odd_name_works_like_any_other(fleet_url: str, name: str) -> None:
    assert add_login(fleet_url, name, "100% 'odd'") in (True, False)

    with closing(open_now(as_login(fleet_url, name))) as store:
        load_units(store)
