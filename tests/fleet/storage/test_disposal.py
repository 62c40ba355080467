"""Does content leave the record only with a tombstone, all or nothing, with its guards put back?"""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa

from fleet.domain.chain import Flaw, Line
from fleet.domain.evidence import Attachment
from fleet.domain.records import REMOVED, StoredEntry
from fleet.errors import AppendOnly, StoreError
from fleet.storage import SqlStore, append_only, open_store
from fleet.storage.append_only import expected_triggers
from fleet.storage.disposal import heads_in
from fleet.storage.engines import parse_url
from fleet.storage.roles import add_login
from tests.fleet.storage.examples import ENTRY, STAMP, add, engine_of, load_units, moved
from tests.fleet.storage.tampering import left_of, tamper

CONTENT = b"%PDF-1.7 an invented certificate"
FILE = Attachment("f" * 64, "report.pdf", "application/pdf", len(CONTENT))
FULL = replace(ENTRY, key="full", note="a word", reading="4.5", strikes=ENTRY.key, why="slip")
LATER = moved(STAMP, 900)
WORDS = ("initials", "note", "reading", "why")


@pytest.fixture
def full_store(store: SqlStore) -> SqlStore:
    """A unit with three entries, and a file."""
    load_units(store)
    add(store, ENTRY, FULL, replace(ENTRY, key="third"))
    with store.begin(write=True) as record:
        record.attach(replace(FILE, sha256=_sha(CONTENT)), CONTENT, STAMP)
        record.commit()
    return store


def _sha(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _stone(line: Line, key: str) -> list[tuple[object, ...]]:
    named = (line.chain, line.seq, key, line.hash.hex(), left_of(line))
    return [(*named, "yearly disposal", STAMP.by)]


def remove(store: SqlStore, keys: list[str], files: list[str]) -> None:
    with store.begin(write=True) as record:
        record.remove(keys, files, "yearly disposal", LATER)
        record.commit()


def entries(store: SqlStore) -> list[StoredEntry]:
    with store.begin() as record:
        return list(record.entries())


def flaws(store: SqlStore) -> list[Flaw]:
    with store.begin() as record:
        return list(record.flaws(lambda _: None))


def rows(url: str, statement: str) -> list[tuple[object, ...]]:
    engine = engine_of(url)
    with engine.connect() as connection:
        found = [tuple(row) for row in connection.exec_driver_sql(statement)]
    engine.dispose()
    return found


def test_words_go_and_days_marks_and_strikes_stay(full_store: SqlStore) -> None:
    before = entries(full_store)

    remove(full_store, [ENTRY.key, "full"], [])

    blank = dict.fromkeys(WORDS, "")
    assert (
        entries(full_store)
        == [
            *(
                replace(line, entry=replace(line.entry, **blank), by="", source=REMOVED)  # type: ignore[arg-type]
                for line in before[:2]
            ),
            before[2],
        ]
    )


def test_each_line_that_goes_leaves_a_tombstone_and_verify_accepts_it(
    full_store: SqlStore, fleet_url: str
) -> None:
    with full_store.begin() as record:
        lines = {(line.chain, line.seq): line for line in record.lines()}

    remove(full_store, ["full"], [_sha(CONTENT)])

    columns = "of_chain, of_seq, key, of_hash, left_hash, reason, by"
    entry, file = lines["entry/M-001", 2], lines["attachment", 1]
    assert rows(fleet_url, f"SELECT {columns} FROM tombstone") == [  # noqa: S608 - our own names
        *_stone(entry, "full"),
        *_stone(file, _sha(CONTENT)),
    ]
    assert flaws(full_store) == []
    with full_store.begin() as record:
        assert record.content(_sha(CONTENT)) is None
        assert [file.name for file in record.attachments()] == ["report.pdf"]


def test_entries_and_seals_go_on_after_a_disposal(full_store: SqlStore) -> None:
    with full_store.begin(write=True) as record:
        record.seal(STAMP)
        record.commit()

    remove(full_store, [ENTRY.key, "full", "third"], [])
    add(full_store, replace(ENTRY, key="after"), stamp=LATER)

    assert [line.seq for line in entries(full_store)] == [1, 2, 3, 4]
    assert flaws(full_store) == []


def test_a_line_blanked_without_tombstone_is_named(full_store: SqlStore, fleet_url: str) -> None:
    trigger = "entry_no_update" if fleet_url.startswith("sqlite") else "entry_no_change ON entry"
    engine = engine_of(fleet_url)
    with engine.begin() as connection:
        connection.exec_driver_sql(f"DROP TRIGGER {trigger}")
        connection.exec_driver_sql(
            "UPDATE entry SET initials = '', by = '', source = 'removed' WHERE key = 'third'"
        )
        append_only.install(connection)
    engine.dispose()

    assert flaws(full_store) == [
        Flaw("entry/M-001", 3, "third", "it was changed after it was written")
    ]


@pytest.mark.parametrize(
    "forged",
    [
        "mark = 'unused'",
        "\"on\" = '2026-02-27'",
        "to_on = '2026-03-05'",
        "task = 'other'",
        "strikes = 'third'",
        "recorded_at = '2026-03-03T08:00:00.000000Z'",
        "stored_at = '2026-03-03T08:00:00.000000Z'",
        "initials = 'ZZ'",
    ],
)
def test_what_stays_of_a_removed_entry_cannot_be_changed(full_store: SqlStore, forged: str) -> None:
    remove(full_store, ["full"], [])
    assert flaws(full_store) == []

    tamper(full_store, f"UPDATE entry SET {forged} WHERE key = 'full'".replace(":", r"\:"))  # noqa: S608

    assert flaws(full_store) == [
        Flaw("entry/M-001", 2, "full", "it was changed after it was written")
    ]


@pytest.mark.parametrize(
    ("table", "statement"),
    [
        ("entry", "UPDATE entry SET note = 'forged'"),
        ("entry", "DELETE FROM entry"),
        ("attachment_content", "DELETE FROM attachment_content"),
        ("tombstone", "DELETE FROM tombstone"),
    ],
)
def test_the_guards_are_back_after_a_disposal(
    full_store: SqlStore, fleet_url: str, table: str, statement: str
) -> None:
    with full_store.begin(write=True) as record:
        record.attach(replace(FILE, sha256="e" * 64), b"another", STAMP)
        record.commit()
    remove(full_store, ["full"], [_sha(CONTENT)])

    with (
        pytest.raises(
            AppendOnly, match=f"^append-only: a line of {table} is never changed or removed$"
        ),
        full_store.begin(write=True) as record,
    ):
        record._connection.exec_driver_sql(statement)
    if fleet_url.startswith("sqlite"):
        standing = rows(fleet_url, "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        assert dict(standing) == expected_triggers()  # type: ignore[arg-type]


def test_what_breaks_before_the_commit_leaves_all_as_it_was(
    full_store: SqlStore, fleet_url: str
) -> None:
    before = entries(full_store)

    with (  # noqa: PT012 - the break is inside the unit of work
        pytest.raises(RuntimeError, match="power cut"),
        full_store.begin(write=True) as record,
    ):
        record.remove(["full"], [_sha(CONTENT)], "yearly disposal", LATER)
        raise RuntimeError("power cut")

    assert entries(full_store) == before
    assert rows(fleet_url, "SELECT * FROM tombstone") == []
    with full_store.begin() as record:
        assert record.content(_sha(CONTENT)) == CONTENT
    with (
        pytest.raises(AppendOnly),
        full_store.begin(write=True) as record,
    ):
        record._connection.exec_driver_sql("UPDATE entry SET note = 'forged'")


@pytest.mark.postgres
@pytest.mark.parametrize("empty_url", ["postgresql"], indirect=True)
def test_a_role_that_does_not_own_the_tables_is_refused(
    full_store: SqlStore, fleet_url: str
) -> None:
    role = f"app_{sa.make_url(fleet_url).database}"
    assert add_login(fleet_url, role, None)
    before = entries(full_store)
    url = fleet_url.replace("owner@", f"{role}@")
    with (
        closing(open_store(url, clock=lambda: STAMP.at)) as app,
        pytest.raises(StoreError) as refused,
    ):
        remove(app, ["full"], [])

    assert str(refused.value).partition(": ")[2] == (
        "only the role that owns the tables may remove what was recorded;"
        " name that role in --database"
    )
    assert entries(full_store) == before


@pytest.mark.parametrize("empty_url", ["sqlite"], indirect=True)
def test_the_removed_words_are_nowhere_in_the_file(full_store: SqlStore, tmp_path: Path) -> None:
    secret = "Quarzglimmer" * 20
    add(full_store, replace(ENTRY, key="secret", note=secret))

    remove(full_store, ["secret"], [])

    full_store.close()
    files = sorted(tmp_path.glob("fleet.db*"))
    assert [file.name for file in files] == ["fleet.db"]
    assert b"Quarzglimmer" not in files[0].read_bytes()


@pytest.mark.parametrize("empty_url", ["sqlite"], indirect=True)
def test_the_heads_of_a_copy_are_read_without_a_trace(
    full_store: SqlStore, fleet_url: str, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.db"
    with closing(sqlite3.connect(parse_url(fleet_url).database or "")) as plain:
        plain.execute("VACUUM INTO ?", (str(copy),))
    before = copy.read_bytes()

    with full_store.begin() as record:
        assert heads_in(copy) == record.heads()
    assert copy.read_bytes() == before
    assert sorted(file.name for file in tmp_path.glob("copy*")) == ["copy.db"]
    with pytest.raises(StoreError, match="there is no fleet here yet"):
        heads_in(tmp_path / "nothing.db")


def test_nothing_to_remove_is_no_line(full_store: SqlStore) -> None:
    with full_store.begin() as record:
        before = record.heads()

    remove(full_store, [], [])

    with full_store.begin() as record:
        assert record.heads() == before
