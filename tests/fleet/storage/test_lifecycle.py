"""Making, recognising and upgrading the database of a fleet."""

# ruff: noqa: S608 (the names of tables are our own)
from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

import fleet.storage
from fleet.errors import StoreError
from fleet.storage import create, lifecycle, schema_state, upgrade
from fleet.storage.append_only import expected_triggers
from fleet.storage.engines import file_of, parse_url, place_of
from fleet.storage.schema import APPEND_ONLY, HEAD, METADATA, REVISIONS
from tests.fleet.storage.examples import (
    ENTRY,
    add,
    engine_of,
    load_units,
    open_now,
    refusal_of_opening,
)

NEXT_REVISION = '''
"""Every table that others refer to, or that has triggers, is made anew."""

import sqlalchemy as sa
from alembic import op
from fleet.storage import append_only

revision, down_revision = "9998", "{HEAD}"


def upgrade():
    for table in ("site", "unit", "entry", "change_line", "rule_book"):
        with op.batch_alter_table(table, recreate="always" if _is_sqlite() else "auto") as batch:
            batch.add_column(sa.Column("extra", sa.Text))
    append_only.install(op.get_bind())


def _is_sqlite():
    return op.get_bind().dialect.name == "sqlite"
'''


def set_revision(url: str, revision: str) -> None:
    engine = engine_of(url)
    with engine.begin() as connection:
        connection.exec_driver_sql(f"UPDATE alembic_version SET version_num = '{revision}'")
    engine.dispose()


def counts(url: str) -> dict[str, int]:
    engine = engine_of(url)
    with engine.connect() as connection:
        found = {
            name: connection.exec_driver_sql(f"SELECT count(*) FROM {name}").scalar_one()
            for name in sa.inspect(connection).get_table_names()
        }
    engine.dispose()
    return found


def triggers(url: str) -> dict[str, str]:
    """Name to statement on SQLite; on PostgreSQL name to the table it guards and its state."""
    queries = {
        "sqlite": "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": "SELECT tgname, tgrelid::regclass || ' ' || tgenabled::text FROM pg_trigger"
        " WHERE NOT tgisinternal",
    }
    engine = engine_of(url)
    with engine.connect() as connection:
        rows = connection.exec_driver_sql(queries[engine.dialect.name]).all()
    engine.dispose()
    return {name: what for name, what in rows}  # noqa: C416


@pytest.fixture
def a_next_revision(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As if this program knew one more schema than it does."""
    scripts = tmp_path / "100% scripts"
    shutil.copytree(lifecycle._SCRIPTS, scripts, ignore=shutil.ignore_patterns("__pycache__"))
    (scripts / "versions" / "r9998_again.py").write_text(NEXT_REVISION.replace("{HEAD}", HEAD))
    monkeypatch.setattr(lifecycle, "_SCRIPTS", scripts)
    monkeypatch.setattr(lifecycle, "REVISIONS", (*REVISIONS, "9998"))
    monkeypatch.setattr(lifecycle, "HEAD", "9998")


def test_revisions_are_those_of_the_migration_scripts() -> None:
    config = Config()
    config.set_main_option("script_location", str(lifecycle._SCRIPTS).replace("%", "%%"))
    scripts = ScriptDirectory.from_config(config)

    assert tuple(script.revision for script in scripts.walk_revisions())[::-1] == REVISIONS
    assert scripts.get_heads() == [HEAD]


def test_migrations_make_the_schema_the_program_works_with(fleet_url: str) -> None:
    engine = engine_of(fleet_url)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        differences = compare_metadata(context, METADATA)
    engine.dispose()

    assert differences == []


@pytest.mark.parametrize("empty_url", ["sqlite"], indirect=True)
def test_sqlite_has_exactly_the_expected_triggers(fleet_url: str) -> None:
    assert triggers(fleet_url) == expected_triggers()
    assert set(expected_triggers()) == {
        f"{table}_no_{what}" for table in APPEND_ONLY for what in ("delete", "replace", "update")
    }


@pytest.mark.postgres
@pytest.mark.parametrize("empty_url", ["postgresql"], indirect=True)
def test_postgresql_has_exactly_the_expected_triggers(fleet_url: str) -> None:
    assert triggers(fleet_url) == {
        f"{table}_no_{what}": f"{table} O"
        for table in APPEND_ONLY
        for what in ("change", "truncate")
    }


def test_database_without_tables_is_missing_and_made_by_create(empty_url: str) -> None:
    assert schema_state(empty_url) == "missing"
    create(empty_url)
    assert schema_state(empty_url) == "current"
    open_now(empty_url).close()


def test_database_that_is_not_there_is_not_made_by_opening(tmp_path: Path) -> None:
    file = tmp_path / "fleet.db"
    url = f"sqlite:///{file}"

    assert refusal_of_opening(url) == (
        f"{file}: there is no fleet here yet; run dueward load or dueward demo"
    )
    with pytest.raises(StoreError, match="there is no fleet here yet; run dueward load or"):
        upgrade(url)
    assert schema_state(url) == "missing"
    assert list(tmp_path.iterdir()) == []


def test_empty_file_counts_as_missing(tmp_path: Path) -> None:
    file = tmp_path / "fleet.db"
    file.touch()

    assert schema_state(f"sqlite:///{file}") == "missing"


def test_create_refuses_a_fleet_that_is_there(fleet_url: str) -> None:
    with pytest.raises(StoreError) as refusal:
        create(fleet_url)

    place = place_of(parse_url(fleet_url))
    assert str(refusal.value) == f"{place}: there is a fleet here already; use it as is"


def test_schema_of_a_later_program_is_named(fleet_url: str) -> None:
    set_revision(fleet_url, "9999")

    assert schema_state(fleet_url) == "newer"
    assert refusal_of_opening(fleet_url) == (
        f"{place_of(parse_url(fleet_url))}: it was made by a later version of this program;"
        " install that version"
    )


def test_upgrade_keeps_every_line_and_the_triggers(
    fleet_url: str, request: pytest.FixtureRequest
) -> None:
    store = open_now(fleet_url)
    load_units(store, "M-001", "M-002")
    add(store, ENTRY, replace(ENTRY, key="second"))
    store.close()
    counted, guarded = counts(fleet_url), triggers(fleet_url)
    request.getfixturevalue("a_next_revision")

    assert schema_state(fleet_url) == "older"
    assert refusal_of_opening(fleet_url) == (
        f"{place_of(parse_url(fleet_url))}: it was made by an earlier version of this program;"
        " run dueward upgrade"
    )
    copy = upgrade(fleet_url)

    assert schema_state(fleet_url) == "current"
    assert counts(fleet_url) == counted
    assert counted["entry"] == 2
    assert triggers(fleet_url) == guarded
    file = file_of(parse_url(fleet_url))
    if file is None:
        assert copy is None
    else:
        assert copy == file.with_name("fleet-before-9998-1.db")
        assert counts(f"sqlite:///{copy}") == counted
        assert upgrade(fleet_url) is None


def test_second_copy_takes_another_name(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    url = f"sqlite:///{tmp_path / 'fleet.db'}"
    create(url)
    (tmp_path / "fleet-before-9998-1.db").write_text("here already")
    request.getfixturevalue("a_next_revision")

    assert upgrade(url) == tmp_path / "fleet-before-9998-2.db"
    assert (tmp_path / "fleet-before-9998-1.db").read_text() == "here already"


def test_upgrade_that_fails_changes_nothing(
    fleet_url: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    request.getfixturevalue("a_next_revision")
    script = tmp_path / "100% scripts" / "versions" / "r9998_again.py"
    script.write_text(script.read_text().replace("append_only.install", "1 / 0  # "))
    before = triggers(fleet_url)

    with pytest.raises(ZeroDivisionError):
        upgrade(fleet_url)

    assert schema_state(fleet_url) == "older"
    assert triggers(fleet_url) == before
    assert not [name for name in counts(fleet_url) if name.startswith("_alembic")]


def test_file_that_is_no_database_is_named(tmp_path: Path) -> None:
    file = tmp_path / "letter.txt"
    file.write_text("Dear Sir or Madam, " * 100)

    assert refusal_of_opening(f"sqlite:///{file}") == (
        f"{file}: this is not a database; name another file with --database, or move this one away"
    )
    assert file.read_text().startswith("Dear Sir")


def test_database_of_something_else_is_named(tmp_path: Path) -> None:
    file = tmp_path / "stamps.db"
    with closing(sqlite3.connect(file)) as other, other:
        other.execute("CREATE TABLE stamp (id INTEGER)")

    assert refusal_of_opening(f"sqlite:///{file}") == (
        f"{file}: this database holds something else; name another with --database"
    )


def test_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    file = tmp_path / "no" / "fleet.db"
    with pytest.raises(StoreError) as refusal:
        create(f"sqlite:///{file}")

    assert str(refusal.value) == (
        f"{file}: it cannot be opened; check that its folder exists and may be read"
    )


@pytest.mark.parametrize("journal", ["DELETE", "WAL"])
def test_a_database_of_something_else_is_left_as_it_is(tmp_path: Path, journal: str) -> None:
    file = tmp_path / "stamps.db"
    with closing(sqlite3.connect(file)) as other, other:
        other.execute(f"PRAGMA journal_mode={journal}")
        other.execute("CREATE TABLE stamp (id INTEGER)")
    os.utime(file, (1, 1))
    before, content = _stats(tmp_path), file.read_bytes()

    for attempt in (schema_state, create, upgrade, open_now):
        with pytest.raises(StoreError):
            attempt(f"sqlite:///{file}")

    assert (_stats(tmp_path), file.read_bytes()) == (before, content)


def test_nothing_is_written_beside_a_database_of_something_else_while_it_is_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "stamps.db"
    with closing(sqlite3.connect(file)) as other, other:
        other.execute("PRAGMA journal_mode=WAL")
        other.execute("CREATE TABLE stamp (id INTEGER)")
    seen: list[list[str]] = []
    state = lifecycle._state

    def looking(connection: sa.Connection) -> lifecycle.SchemaState:
        try:
            return state(connection)
        finally:
            seen.append(sorted(path.name for path in tmp_path.iterdir()))

    monkeypatch.setattr(lifecycle, "_state", looking)

    with pytest.raises(StoreError):
        schema_state(f"sqlite:///{file}")

    assert seen == [["stamps.db"]]


def test_a_fleet_whose_last_program_died_is_known_by_its_write_ahead_log(tmp_path: Path) -> None:
    """Its tables stand in the log only."""
    alive = tmp_path / "alive.db"
    create(f"sqlite:///{alive}")
    with closing(sqlite3.connect(alive)) as holding:
        holding.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        holding.execute("UPDATE alembic_version SET version_num = 'later'")
        holding.commit()
        died = tmp_path / "died.db"
        for ending in ("", "-wal"):
            shutil.copy(f"{alive}{ending}", f"{died}{ending}")

    assert schema_state(f"sqlite:///{died}") == "newer"


def _stats(folder: Path) -> dict[str, tuple[int, int]]:
    return {path.name: (path.stat().st_mtime_ns, path.stat().st_size) for path in folder.iterdir()}


def test_opening_a_fleet_does_not_wait_for_alembic(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'fleet.db'}"
    create(url)
    program = (
        "import sys; from fleet.storage import open_store;"
        f"work = open_store({url!r}, clock=lambda: None).begin(); work.__enter__().register();"
        "print([name for name in ('alembic', 'sqlalchemy.orm', 'pandas') if name in sys.modules])"
    )
    root = Path(fleet.storage.__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        cwd=root,
        env=os.environ | {"PYTHONPATH": str(root)},
    )

    assert (done.stdout, done.stderr) == ("[]\n", "")
