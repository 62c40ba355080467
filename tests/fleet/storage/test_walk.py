"""Is a change made behind the program found and named, and nothing else?"""

# ruff: noqa: S608 (the names of tables are our own)
from __future__ import annotations

from dataclasses import replace

import pytest

from fleet.domain.chain import Flaw
from fleet.domain.records import REMOVED
from fleet.storage import SqlStore
from fleet.storage.canonical import link
from tests.fleet.storage.examples import ENTRY, STAMP, add, load_units
from tests.fleet.storage.tampering import WHOLE, fill, tamper

CHANGED = "it was changed after it was written"
FOREIGN = "it does not follow from the line before: one of the two was put in or exchanged"
OTHERWISE = "the table {} has it otherwise than the change lines add up to"
LACKS = "the table {} lacks it, though the change lines have it"
BLANK = f"initials = '', note = '', reading = '', why = '', \"by\" = '', source = '{REMOVED}'"
NOON = "2026-03-02T12:00:00.000000Z"
OF_UNIT = "unit_id = (SELECT id FROM unit WHERE property_number = '{}')"
FIRST, SECOND = OF_UNIT.format("M-001"), OF_UNIT.format("M-002")
COPY = (
    "INSERT INTO entry SELECT unit_id, {seq}, '{key}', task, \"on\", to_on, mark, initials, note,"
    ' reading, recorded_at, strikes, why, stored_at, "by", source, {prev}, hash'
    f" FROM entry WHERE {FIRST} AND seq = 3"
)


def flaws_of(store: SqlStore) -> list[Flaw]:
    with store.begin() as record:
        return list(record.flaws(lambda lines: None))


def unsealed(root: str, problem: str) -> Flaw:
    return Flaw("seal", 1, root, f"the root given out at {NOON} does not hold: {problem}")


def test_a_whole_record_has_no_flaw_and_every_line_is_looked_at(store: SqlStore) -> None:
    fill(store)
    told: list[int] = []

    with store.begin() as record:
        flaws = list(record.flaws(told.append))

    assert flaws == []
    assert sum(told) == sum(WHOLE.values())


def test_a_fleet_without_a_line_is_whole(store: SqlStore) -> None:
    assert flaws_of(store) == []


ONE_LINE = {
    "a note": (
        f"UPDATE entry SET note = 'line\ntab\t\x01\x7f\u2028 😁' WHERE {FIRST} AND seq = 2",
        Flaw("entry/M-001", 2, "full", CHANGED),
    ),
    "the day": (
        f"UPDATE entry SET \"on\" = '2026-03-01' WHERE {SECOND} AND seq = 1",
        Flaw("entry/M-002", 1, "other", CHANGED),
    ),
    "the instant it was stored": (
        f"UPDATE entry SET stored_at = '2026-03-02T12:00:00.000001Z' WHERE {SECOND} AND seq = 1",
        Flaw("entry/M-002", 1, "other", CHANGED),
    ),
    "a mark taken away": (
        f"UPDATE entry SET mark = NULL WHERE {SECOND} AND seq = 2",
        Flaw("entry/M-002", 2, "other-2", CHANGED),
    ),
    "the author of two lines, of which the first is named": (
        f"UPDATE entry SET \"by\" = 'forger' WHERE {FIRST} AND seq IN (2, 3)",
        Flaw("entry/M-001", 2, "full", CHANGED),
    ),
    "the hash before": (
        f"UPDATE entry SET prev_hash = hash WHERE {FIRST} AND seq = 3",
        Flaw("entry/M-001", 3, "third", FOREIGN),
    ),
    "a missing line": (
        f"DELETE FROM entry WHERE {FIRST} AND seq = 2",
        Flaw("entry/M-001", 2, "", "line 2 is missing in the middle"),
    ),
    "missing lines": (
        f"DELETE FROM entry WHERE {FIRST} AND seq IN (2, 3)",
        Flaw("entry/M-001", 2, "", "lines 2 to 3 are missing in the middle"),
    ),
    "a missing first line": (
        "DELETE FROM change_line WHERE chain = 'unit' AND seq = 1",
        Flaw("register/unit", 1, "", "line 1 is missing in the middle"),
    ),
    "a change line": (
        "UPDATE change_line SET new = replace(new, 'lamp', 'bulb')"
        " WHERE chain = 'outage' AND seq = 1",
        Flaw("register/outage", 1, "M-001 2026-03-02", CHANGED),
    ),
    "whether a change is initial": (
        "UPDATE change_line SET initial = false WHERE chain = 'unit' AND seq = 2",
        Flaw("register/unit", 2, "M-002", CHANGED),
    ),
    "a change line that cannot be read any more": (
        "UPDATE change_line SET key = '[', new = '{' WHERE chain = 'unit' AND seq = 2",
        Flaw("register/unit", 2, "[", CHANGED),
    ),
    "a rule book": (
        "UPDATE rule_book SET text = 'First' WHERE seq = 1",
        Flaw("rule_book", 1, "", CHANGED),
    ),
    "a public holiday": (
        "UPDATE holiday_year SET names = '{}' WHERE seq = 2",
        Flaw("holiday_year", 2, "US NE 2027", CHANGED),
    ),
    "the name of a file": (
        "UPDATE attachment SET name = 'other.pdf' WHERE seq = 1",
        Flaw("attachment", 1, "other.pdf", CHANGED),
    ),
    "the hash of a file": (
        "UPDATE attachment SET sha256 = 'other' WHERE seq = 1",
        Flaw("attachment", 1, "report.pdf", CHANGED),
    ),
    "the reason on a tombstone": (
        "UPDATE tombstone SET reason = 'none' WHERE seq = 1",
        Flaw("tombstone", 1, "disposed", CHANGED),
    ),
    "the instant of a seal": (
        "UPDATE seal SET stored_at = '2026-03-02T12:00:01.000000Z' WHERE seq = 1",
        Flaw("seal", 1, "{root}", CHANGED),
    ),
    "the lengths of a seal": (
        "UPDATE seal SET lengths = 'none' WHERE seq = 1",
        Flaw("seal", 1, "{root}", CHANGED),
    ),
    "a line put in at the end": (
        COPY.format(seq=5, key="forged", prev=f"(SELECT hash FROM entry WHERE {FIRST} AND seq=4)"),
        Flaw("entry/M-001", 5, "forged", CHANGED),
    ),
    "a line put in before the first": (
        COPY.format(seq=0, key="forged", prev="prev_hash"),
        Flaw("entry/M-001", 0, "forged", "it was put in: lines are counted from 1"),
    ),
    "a removed head": (
        "DELETE FROM chain_head WHERE chain = 'entry/M-001'",
        Flaw(
            *("entry/M-001", None, ""),
            "its lines stand, but where it ends is not known: the head was removed",
        ),
    ),
    "a head of a chain that never was": (
        "INSERT INTO chain_head SELECT 'entry/M-999', 1, hash FROM chain_head WHERE chain = 'seal'",
        Flaw("entry/M-999", None, "", "its only line is gone"),
    ),
    "a head moved on": (
        "UPDATE chain_head SET seq = 7 WHERE chain = 'entry/M-001'",
        Flaw("entry/M-001", 5, "", "lines 5 to 7 are missing at its end"),
    ),
    "a head moved back": (
        "UPDATE chain_head SET seq = 2 WHERE chain = 'entry/M-001'",
        Flaw(
            *("entry/M-001", 3, "third"),
            "it was put in behind the program: the chain ends at line 2",
        ),
    ),
    "the hash of a head": (
        f"UPDATE chain_head SET hash = (SELECT hash FROM entry WHERE {SECOND} AND seq = 2)"
        " WHERE chain = 'entry/M-001'",
        Flaw("entry/M-001", 4, "disposed", "the chain's head knows it by another hash"),
    ),
    "a content": (
        "UPDATE attachment_content SET content = lower('x')::bytea",
        Flaw("attachment", 1, "report.pdf", "its content is not the one that was attached"),
    ),
    "a missing content": (
        "DELETE FROM attachment_content",
        Flaw("attachment", 1, "report.pdf", "its content is gone and was not disposed of"),
    ),
    "a content that was never attached": (
        "INSERT INTO attachment_content SELECT 'forged', content FROM attachment_content",
        Flaw("attachment", None, "forged", "a content stands that was never attached"),
    ),
    "only the table of units": (
        "UPDATE unit SET serial = '4711' WHERE property_number = 'M-002'",
        Flaw("register/unit", None, "M-002", OTHERWISE.format("unit")),
    ),
    "only the table of outages": (
        "DELETE FROM outage",
        Flaw("register/outage", None, "M-001 2026-03-02", LACKS.format("outage")),
    ),
    "a person put into the table": (
        "INSERT INTO person VALUES ('x@forge.example', 'X', 'manager', '', '', 'en', '', '')",
        Flaw(
            *("register/person", None, "x@forge.example manager  "),
            "the table person has it, though no change line put it there",
        ),
    ),
    "a role that there is not": (
        "INSERT INTO person VALUES ('x@forge.example', 'X', 'owner', '', '', 'en', '', '')",
        Flaw(
            *("register/person", None, ""),
            "the table person holds what cannot be read ('owner' is not among the defined enum"
            " values. Enum name: role. Possible values: consultant, site lead, bench, ...,"
            " inspector)",
        ),
    ),
}


@pytest.mark.parametrize("what", ONE_LINE)
def test_a_change_of_one_thing_is_the_one_thing_named(store: SqlStore, what: str) -> None:
    root = fill(store).root
    statement, flaw = ONE_LINE[what]
    if store._engine.dialect.name == "sqlite":
        statement = statement.replace("lower('x')::bytea", "x'78'")

    tamper(store, statement.replace(":", r"\:") if "::" not in statement else statement)

    assert flaws_of(store) == [replace(flaw, key=flaw.key.format(root=root))]


def test_a_changed_hash_breaks_its_line_and_the_root_that_covers_it(store: SqlStore) -> None:
    root = fill(store).root
    tamper(store, f"UPDATE entry SET hash = prev_hash WHERE {SECOND} AND seq = 2")

    assert flaws_of(store) == [
        Flaw("entry/M-002", 2, "other-2", CHANGED),
        unsealed(root, "what it covers was written anew since"),
    ]


def test_a_missing_tail_is_told_by_the_head_and_by_the_root(store: SqlStore) -> None:
    root = fill(store).root
    tamper(store, f"DELETE FROM entry WHERE {SECOND} AND seq = 2")

    assert flaws_of(store) == [
        Flaw("entry/M-002", 2, "", "line 2 is missing at its end"),
        unsealed(root, "line 2 of entry/M-002, which it covers, is not there any more"),
    ]


def test_a_missing_tail_whose_head_was_moved_back_is_told_by_the_root(store: SqlStore) -> None:
    root = fill(store).root
    tamper(
        store,
        f"DELETE FROM entry WHERE {SECOND} AND seq = 2",
        f"UPDATE chain_head SET seq = 1, hash = (SELECT hash FROM entry WHERE {SECOND})"
        " WHERE chain = 'entry/M-002'",
    )

    assert flaws_of(store) == [
        unsealed(root, "line 2 of entry/M-002, which it covers, is not there any more")
    ]


def test_a_chain_written_anew_with_its_head_is_told_by_the_root(store: SqlStore) -> None:
    """Who knows how lines are hashed and owns the database can forge all but what was given out."""
    root = fill(store).root
    with store.begin() as record:
        first, second = record.lines(["entry/M-002"])
    forged = link(first.hash, second.content.replace('"initials":"RA"', '"initials":"ZZ"'))

    tamper(
        store,
        f"UPDATE entry SET initials = 'ZZ', hash = :hash WHERE {SECOND} AND seq = 2",
        "UPDATE chain_head SET hash = :hash WHERE chain = 'entry/M-002'",
        hash=forged,
    )

    assert flaws_of(store) == [unsealed(root, "what it covers was written anew since")]


def test_of_several_roots_each_one_is_told_that_does_not_hold(store: SqlStore) -> None:
    fill(store)
    add(store, replace(ENTRY, property_number="M-003", key="later"))
    with store.begin(write=True) as record:
        record.seal(STAMP)
        record.commit()
    tamper(
        store,
        "DELETE FROM entry WHERE key = 'later'",
        "DELETE FROM chain_head WHERE chain = 'entry/M-003'",
    )

    (flaw,) = flaws_of(store)

    assert (flaw.chain, flaw.seq) == ("seal", 2)
    assert flaw.problem.endswith("line 1 of entry/M-003, which it covers, is not there any more")


def test_a_forged_line_that_follows_from_the_last_is_beyond_the_head(store: SqlStore) -> None:
    fill(store)
    with store.begin() as record:
        _first, second = record.lines(["entry/M-002"])
    content = second.content.replace('"seq":2', '"seq":3').replace("other-2", "forged")
    columns = 'unit_id, {seq}, {key}, task, "on", to_on, mark, initials, note, reading, recorded_at'
    tamper(
        store,
        f"INSERT INTO entry SELECT {columns.format(seq='3', key=':key')}, strikes, why, stored_at,"
        f' "by", source, :before, :hash FROM entry WHERE {SECOND} AND seq = 2',
        key="forged",
        before=second.hash,
        hash=link(second.hash, content),
    )

    problem = "it was put in behind the program: the chain ends at line 2"
    assert flaws_of(store) == [Flaw("entry/M-002", 3, "forged", problem)]


def test_a_unit_deleted_with_all_it_had_is_named(store: SqlStore) -> None:
    root = fill(store).root
    tamper(
        store,
        f"DELETE FROM entry WHERE {SECOND}",
        f"DELETE FROM marked_year WHERE {SECOND}",
        "DELETE FROM unit WHERE property_number = 'M-002'",
    )

    assert flaws_of(store) == [
        Flaw("entry/M-002", None, "", "its 2 lines are gone"),
        Flaw("register/unit", None, "M-002", LACKS.format("unit")),
        unsealed(root, "line 2 of entry/M-002, which it covers, is not there any more"),
    ]


def test_a_unit_deleted_with_its_head_too_is_named(store: SqlStore) -> None:
    root = fill(store).root
    tamper(
        store,
        f"DELETE FROM entry WHERE {SECOND}",
        "DELETE FROM unit WHERE property_number = 'M-002'",
        "DELETE FROM chain_head WHERE chain = 'entry/M-002'",
    )

    assert flaws_of(store) == [
        Flaw("register/unit", None, "M-002", LACKS.format("unit")),
        unsealed(root, "line 2 of entry/M-002, which it covers, is not there any more"),
    ]


def test_entries_whose_unit_was_deleted_are_named_by_their_chain(store: SqlStore) -> None:
    root = fill(store).root
    tamper(store, "DELETE FROM unit WHERE property_number = 'M-002'")

    problem = "the unit is gone; 2 of its entries still stand, this is the first"
    assert flaws_of(store) == [
        Flaw("entry/M-002", 1, "other", problem),
        Flaw("register/unit", None, "M-002", LACKS.format("unit")),
        unsealed(root, "line 2 of entry/M-002, which it covers, is not there any more"),
    ]


def test_entries_put_in_for_no_unit_are_named(store: SqlStore) -> None:
    fill(store)
    tamper(
        store,
        COPY.format(seq=1, key="forged", prev="prev_hash").replace("unit_id, 1", "4711, 1"),
        "UPDATE entry SET hash = prev_hash WHERE key = 'forged'",
    )

    problem = "the unit is gone; 1 of its entries still stand, this is the first"
    assert flaws_of(store) == [Flaw("entry/(unit number 4711)", 1, "forged", problem)]


def test_exchanged_units_break_both_their_chains(store: SqlStore) -> None:
    """As many lines under each, and every hash in its place: only the content tells."""
    load_units(store, "M-001", "M-002")
    add(store, ENTRY, replace(ENTRY, property_number="M-002", key="other"))
    tamper(
        store,
        "UPDATE entry SET unit_id = -unit_id",
        *(
            f"UPDATE entry SET unit_id = (SELECT id FROM unit WHERE property_number = '{to}')"
            f" WHERE unit_id = -(SELECT id FROM unit WHERE property_number = '{of}')"
            for of, to in (("M-001", "M-002"), ("M-002", "M-001"))
        ),
    )

    assert flaws_of(store) == [
        Flaw("entry/M-001", 1, "other", CHANGED),
        Flaw("entry/M-002", 1, ENTRY.key, CHANGED),
    ]
