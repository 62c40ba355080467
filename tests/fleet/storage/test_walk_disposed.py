"""Is what was disposed of accepted for what its tombstone keeps, and for nothing else?"""

# ruff: noqa: S608 (the names of tables are our own)
from __future__ import annotations

import hashlib
from dataclasses import replace

import pytest

from fleet.domain.chain import Flaw, Line
from fleet.domain.records import REMOVED
from fleet.storage import SqlStore
from tests.fleet.storage.examples import ENTRY, add, load_units
from tests.fleet.storage.tampering import SHA256, bury, fill, left_of, stand, tamper
from tests.fleet.storage.test_walk import CHANGED, FIRST, flaws_of, unsealed

BLANK = f"initials = '', note = '', reading = '', why = '', \"by\" = '', source = '{REMOVED}'"


def test_a_line_that_was_disposed_of_is_taken_for_the_hash_on_its_tombstone(
    store: SqlStore,
) -> None:
    fill(store)
    tamper(store, f"UPDATE entry SET {BLANK} WHERE {FIRST} AND seq = 4")

    assert flaws_of(store) == []


@pytest.mark.parametrize("kept", ["note = 'forged'", "initials = 'ZZ'", "source = 'command'"])
def test_a_line_that_was_disposed_of_holds_nothing_new(store: SqlStore, kept: str) -> None:
    fill(store)
    tamper(
        store,
        f"UPDATE entry SET {BLANK} WHERE {FIRST} AND seq = 4",
        f"UPDATE entry SET {kept} WHERE {FIRST} AND seq = 4",
    )

    assert flaws_of(store) == [Flaw("entry/M-001", 4, "disposed", CHANGED)]


def test_a_tombstone_is_good_for_its_own_hash_only(store: SqlStore) -> None:
    root = fill(store).root
    tamper(store, f"UPDATE entry SET note = 'forged', hash = prev_hash WHERE {FIRST} AND seq = 4")

    assert flaws_of(store) == [
        Flaw("entry/M-001", 4, "disposed", CHANGED),
        unsealed(root, "what it covers was written anew since"),
    ]


@pytest.mark.parametrize(
    "kept", ["mark = 'unused'", "\"on\" = '2026-02-27'", "task = 'x'", "strikes = 'third'"]
)
def test_what_stays_of_a_line_is_held_against_its_tombstone(store: SqlStore, kept: str) -> None:
    fill(store)
    tamper(
        store,
        f"UPDATE entry SET {BLANK} WHERE {FIRST} AND seq = 4",
        f"UPDATE entry SET {kept} WHERE {FIRST} AND seq = 4",
    )

    assert flaws_of(store) == [Flaw("entry/M-001", 4, "disposed", CHANGED)]


def _line(store: SqlStore, chain: str, seq: int) -> Line:
    with store.begin() as record:
        return next(line for line in record.lines([chain]) if line.seq == seq)


def _set(store: SqlStore, *named: str | int) -> None:
    """Set a second tombstone, as a forger does who knows how lines are hashed."""
    with store.begin(write=True) as record:
        stand(record, *named)
        record.commit()


@pytest.mark.parametrize(
    ("chain", "statement"),
    [
        ("register/outage", "UPDATE change_line SET \"by\" = '', source = 'removed'"),
        ("rule_book", "UPDATE rule_book SET \"by\" = '', source = 'removed'"),
        ("attachment", "UPDATE attachment SET \"by\" = '', source = 'removed'"),
    ],
)
def test_a_tombstone_excuses_no_line_but_of_entries(
    store: SqlStore, chain: str, statement: str
) -> None:
    fill(store)
    line = _line(store, chain, 1)
    where = " AND chain = 'outage'" if chain == "register/outage" else ""
    tamper(store, f"{statement} WHERE seq = 1{where}")
    blanked = _line(store, chain, 1).content
    left = hashlib.sha256(blanked.encode()).hexdigest()
    key = {"register/outage": "M-001 2026-03-02", "rule_book": ""}.get(chain, "report.pdf")
    _set(store, chain, 1, key, line.hash.hex(), left)

    problem = f"it stands for a line of {chain}, of which none is ever disposed of"
    stones = [] if chain == "attachment" else [Flaw("tombstone", 2, key, problem)]
    assert flaws_of(store) == [Flaw(chain, 1, key, CHANGED), *stones]


def test_a_second_tombstone_for_a_line_is_named(store: SqlStore) -> None:
    fill(store)
    bury(store, "entry/M-001", 4, "disposed")

    assert flaws_of(store) == [
        Flaw("tombstone", 2, "disposed", "line 4 of entry/M-001 has another tombstone")
    ]


NOTHING = "there is no line {} of {} with the key and the hash it keeps"


@pytest.mark.parametrize(
    ("chain", "seq", "of"),
    [
        ("entry/M-002", 3, 1),
        ("entry/M-002", 1, 2),
        ("entry/M-003", 1, 1),
        ("entry/M-0", 1, 1),
        ("zzz", 1, 1),
        ("attachment", 2, 1),
    ],
    ids=["number", "hash", "no line", "no unit", "no chain", "no file"],
)
def test_a_tombstone_for_no_line_is_named(store: SqlStore, chain: str, seq: int, of: int) -> None:
    fill(store)
    line = _line(store, "entry/M-002", of)
    key = "other"
    _set(store, chain, seq, key, line.hash.hex(), left_of(line))

    problem = NOTHING.format(seq, chain)
    if chain == "zzz":
        problem = "it stands for a line of zzz, of which none is ever disposed of"
    assert flaws_of(store) == [Flaw("tombstone", 2, key, problem)]


@pytest.mark.parametrize("wrong", ["key", "hash"])
def test_a_content_is_excused_by_its_own_tombstone_only(store: SqlStore, wrong: str) -> None:
    fill(store)
    line = _line(store, "attachment", 1)
    key = "report.pdf" if wrong == "key" else SHA256
    digest = "0" * 64 if wrong == "hash" else line.hash.hex()
    _set(store, "attachment", 1, key, digest, left_of(line))
    tamper(store, "DELETE FROM attachment_content")

    assert flaws_of(store) == [
        Flaw("attachment", 1, "report.pdf", "its content is gone and was not disposed of"),
        Flaw("tombstone", 2, key, NOTHING.format(1, "attachment")),
    ]


def test_tombstones_of_many_chains_are_each_found(store: SqlStore) -> None:
    load_units(store, "a", "B", "ä", "b")
    for number in ("b", "a", "ä", "B"):
        add(store, replace(ENTRY, property_number=number, key=number))
        bury(store, f"entry/{number}", 1, number)
    tamper(store, f"UPDATE entry SET {BLANK}")

    assert flaws_of(store) == []


def test_a_content_that_was_disposed_of_may_be_gone(store: SqlStore) -> None:
    fill(store)
    bury(store, "attachment", 1, SHA256)
    tamper(store, "DELETE FROM attachment_content")

    assert flaws_of(store) == []
