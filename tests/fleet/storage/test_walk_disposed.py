"""Is what was disposed of accepted for what its tombstone keeps, and for nothing else?"""

# ruff: noqa: S608 (the names of tables are our own)
from __future__ import annotations

from dataclasses import replace

import pytest

from fleet.domain.chain import Flaw
from fleet.domain.records import REMOVED
from fleet.storage import SqlStore
from tests.fleet.storage.examples import ENTRY, add, load_units
from tests.fleet.storage.tampering import SHA256, bury, fill, tamper
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
