"""How does the program run on PostgreSQL without the right to change what was recorded?

The owner of the tables, who runs migrations, stays apart. The logins that the program runs as are
members of one group: it may read everything, add lines to the append-only tables and keep up what
is derived from them. It may neither change nor empty a line, nor touch a trigger or a table.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from fleet.errors import BadInput, Fault, StoreError
from fleet.storage.engines import WRITE, make_engine, parse_url, place_of
from fleet.storage.lifecycle import require_current
from fleet.storage.refusals import in_words
from fleet.storage.role_grants import GROUP, grant_again, has_role, tables_of
from fleet.storage.schema import APPEND_ONLY

__all__ = ["add_login"]

_FORBIDDEN = ("UPDATE", "DELETE", "TRUNCATE", "TRIGGER")
_MOST_BYTES = 63
"""As long a name PostgreSQL takes; a longer one it would cut (manual, 4.1.1)."""


def add_login(url: str, login: str, password: str | None) -> bool:
    """Let a login run the program, without the right to change the record; made if missing.

    url: the owner's address. password: None leaves it as it is. Answers whether the login was
    made. Raises BadInput on SQLite and for a name that cannot be a login, StoreError for a login
    that would have more rights than it should.
    """
    place = parse_url(url)
    if place.get_backend_name() == "sqlite":
        mend = "let the permissions of the file and its folder say who may write to it"
        raise BadInput([Fault("--database", None, None, "SQLite has no roles", mend)])
    _check_name(login)
    require_current(url)
    engine = make_engine(place)
    try:
        with (
            in_words(engine),
            engine.connect().execution_options(**{WRITE: True}) as connection,
            connection.begin(),
        ):
            return _add(connection, login, password)
    finally:
        engine.dispose()


def _check_name(login: str) -> None:
    problem = None
    if not login.strip() or not login.isprintable():
        problem = "a login needs a name"
    elif len(login.encode()) > _MOST_BYTES:
        problem = f"'{login}' is longer than the {_MOST_BYTES} bytes that PostgreSQL takes"
    elif login.startswith("pg_") or login in {GROUP, "public", "none"}:
        problem = f"'{login}' is a name of PostgreSQL's or of this program's own"
    if problem is not None:
        raise BadInput([Fault("LOGIN", None, None, problem, "give another name, as 'dueward_web'")])


def _add(connection: sa.Connection, login: str, password: str | None) -> bool:
    name = _quoted(connection, login)
    if not has_role(connection, GROUP):
        connection.exec_driver_sql(f"CREATE ROLE {GROUP} NOLOGIN")
    is_new = not has_role(connection, login)
    if is_new:
        connection.exec_driver_sql(f"CREATE ROLE {name} LOGIN")
    else:
        _refuse_the_mighty(connection, login)
    if password is not None:
        _set_password(connection, login, password)
    for table in tables_of(connection):
        connection.exec_driver_sql(f"REVOKE ALL ON TABLE {table} FROM {name}")
    grant_again(connection)
    connection.exec_driver_sql(f"GRANT {GROUP} TO {name}")
    _check_rights(connection, login)
    return is_new


def _refuse_the_mighty(connection: sa.Connection, login: str) -> None:
    """Refuse a login that could change the record all the same: an owner or a superuser."""
    query = (
        "SELECT rolsuper OR pg_has_role(oid, (SELECT relowner FROM pg_class"
        " WHERE oid = 'entry'::regclass), 'MEMBER') FROM pg_roles WHERE rolname = :login"
    )
    if connection.execute(sa.text(query), {"login": login}).scalar_one():
        raise StoreError(
            f"'{login}' is a superuser or owns these tables, and could change the record whatever"
            " is granted; give another LOGIN, which is made if there is none"
        )


def _check_rights(connection: sa.Connection, login: str) -> None:
    """Look at what the login may do in the end: others may have granted it more."""
    query = sa.text("SELECT has_table_privilege(:login, :table, :right)")
    for table in APPEND_ONLY:
        for right in _FORBIDDEN:
            values = {"login": login, "table": table, "right": right}
            if connection.execute(query, values).scalar_one():
                raise StoreError(
                    f"{place_of(connection.engine.url)}: '{login}' has {right} on {table} by PUBLIC"
                    f" or another role; revoke that, as with REVOKE {right} ON {table} FROM PUBLIC"
                )


def _set_password(connection: sa.Connection, login: str, password: str) -> None:
    """Set a password; the server is sent its verifier only (RFC 5802), so that no log has it."""
    driver: Any = connection.connection.driver_connection
    verifier = driver.pgconn.encrypt_password(password.encode(), login.encode(), b"scram-sha-256")
    text = verifier.decode().replace("'", "''")
    connection.exec_driver_sql(f"ALTER ROLE {_quoted(connection, login)} PASSWORD '{text}'")


def _quoted(connection: sa.Connection, name: str) -> str:
    return connection.dialect.identifier_preparer.quote_identifier(name)
