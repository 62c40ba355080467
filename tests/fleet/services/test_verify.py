"""Is the record whole, does it carry on an earlier one, and is what is kept beside it right?"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace

import pytest

from fleet.domain.chain import Flaw, root_of
from fleet.errors import BadInput
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.services.checked import flaw_words
from fleet.services.kept import rebuild
from fleet.services.verify import Verification, verify
from fleet.storage import SqlStore
from tests.fakes import NoProgress
from tests.fleet.storage.examples import ENTRY, STAMP, add, load_units, moved
from tests.fleet.storage.tampering import WHOLE, fill, tamper

HOLIDAYS = PublicHolidayCalendar()
BOOK = """\
[kind.microscope]
name = "Bench microscope"

[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces, top down"
each = "open-day"
source = "common practice, no source"
"""


def verified(store: SqlStore, *, rebuild: bool = False, root: str | None = None) -> Verification:
    with store.begin() as record:
        return verify(record, HOLIDAYS, rebuild=rebuild, root=root, progress=NoProgress())


def kept_fleet(store: SqlStore) -> None:
    """A small fleet with a rule book and its marked days kept."""
    load_units(store, "M-001", "M-002")
    second = replace(ENTRY, key="second", property_number="M-002")
    with store.begin(write=True) as record:
        record.add_book(BOOK, hashlib.sha256(BOOK.encode()).hexdigest(), True, STAMP)
        record.append([ENTRY, second, replace(second, key="twice")], STAMP)
        rebuild(record, sorted(record.unit_ids().values()), HOLIDAYS)
        record.commit()


def sealed(store: SqlStore, days: int = 0) -> str:
    with store.begin(write=True) as record:
        root = record.seal(moved(STAMP, days)).root
        record.commit()
    return root


def test_a_whole_record_is_counted_and_its_root_told(store: SqlStore) -> None:
    root = fill(store).root

    found = verified(store)

    with store.begin() as record:
        assert found.root == root_of(record.heads())
    assert found.is_whole
    assert (found.chains, found.lines) == (len(WHOLE), sum(WHOLE.values()))
    assert (found.flaws, found.differing, found.root_problem) == ((), (), "")
    assert (found.root, found.sealed_at) == (root, STAMP.at)


def test_removed_lines_are_counted_with_the_instant_of_the_last(store: SqlStore) -> None:
    kept_fleet(store)
    assert (verified(store).removed, verified(store).removed_at) == (0, None)
    for days, keys in ((700, [ENTRY.key, "second"]), (900, ["twice"])):
        with store.begin(write=True) as record:
            record.remove(keys, [], "yearly disposal", moved(STAMP, days))
            record.commit()

    found = verified(store)

    assert (found.removed, found.removed_at) == (3, moved(STAMP, 900).at)
    assert found.is_whole


def test_of_broken_tombstones_no_instant_is_told(store: SqlStore) -> None:
    fill(store)
    tamper(
        store, "UPDATE tombstone SET stored_at = '2031-03-02T12:00:00.000000Z'".replace(":", r"\:")
    )

    found = verified(store)

    assert [flaw.chain for flaw in found.flaws] == ["tombstone"]
    assert (found.removed, found.removed_at) == (1, None)


def test_the_root_is_the_hash_over_all_heads(store: SqlStore) -> None:
    """Built here from the lines themselves: SHA-256 (FIPS 180-4) of one text a chain, sorted."""
    fill(store)
    with store.begin() as record:
        last = {line.chain: line for line in record.lines()}
    del last["seal"]
    text = "".join(f"{c}\t{last[c].seq}\t{last[c].hash.hex()}\n" for c in sorted(last))

    assert verified(store).root == hashlib.sha256(text.encode()).hexdigest()


def test_a_root_that_was_not_kept_has_no_instant(store: SqlStore) -> None:
    fill(store)
    add(store, replace(ENTRY, key="after", property_number="M-002"))

    assert verified(store).sealed_at is None


def test_a_flaw_is_told_and_nothing_is_rebuilt_beside_it(store: SqlStore) -> None:
    kept_fleet(store)
    tamper(store, "UPDATE entry SET note = 'forged' WHERE key = 'second'")

    found = verified(store, rebuild=True)

    assert not found.is_whole
    assert found.flaws == (Flaw("entry/M-002", 1, "second", "it was changed after it was written"),)
    assert not found.is_rebuilt
    assert flaw_words(found.flaws[0]) == (
        "entry/M-002, line 1 (second): it was changed after it was written"
    )


@pytest.mark.parametrize(
    ("flaw", "words"),
    [
        (Flaw("seal", None, "", "gone"), "seal: gone"),
        (Flaw("entry/A", 2, "", "gone"), "entry/A, line 2: gone"),
        (Flaw("register/unit", None, "A", "gone"), "register/unit (A): gone"),
    ],
)
def test_a_flaw_s_words_name_what_is_known_of_the_place(flaw: Flaw, words: str) -> None:
    assert flaw_words(flaw) == words


def test_what_is_kept_right_is_found_right(store: SqlStore) -> None:
    kept_fleet(store)

    found = verified(store, rebuild=True)

    assert (found.is_whole, found.is_rebuilt, found.differing) == (True, True, ())


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE marked_year SET done = :zero WHERE unit_id = :second",
        "UPDATE marked_year SET marked = :zero WHERE unit_id = :second",
        "UPDATE marked_year SET extra = NULL WHERE unit_id = :second",
        "UPDATE marked_year SET year = 2020 WHERE unit_id = :second",
        "UPDATE marked_year SET task = 'other' WHERE unit_id = :second",
        "DELETE FROM marked_year WHERE unit_id = :second",
        "INSERT INTO marked_year SELECT unit_id, task, 2020, marked, done, extra FROM marked_year"
        " WHERE unit_id = :second",
    ],
)
def test_what_is_kept_otherwise_is_found_by_its_unit_only_when_asked(
    store: SqlStore, statement: str
) -> None:
    kept_fleet(store)
    with store.begin() as record:
        second = record.unit_ids()["M-002"]
    values = {"zero": bytes(46), "second": second}
    tamper(store, statement, **{name: v for name, v in values.items() if f":{name}" in statement})

    assert verified(store).is_whole
    found = verified(store, rebuild=True)

    assert (found.is_whole, found.differing) == (False, ("M-002",))


def test_rebuilding_to_compare_writes_nothing(store: SqlStore) -> None:
    kept_fleet(store)
    tamper(store, "DELETE FROM marked_year")

    first, second = (verified(store, rebuild=True) for _ in range(2))

    assert first.differing == second.differing == ("M-001", "M-002")


@pytest.mark.parametrize(
    "shorten",
    [str, str.upper, lambda root: root[:16], lambda root: f" {root[:32]} {root[32:]} "],
    ids=["whole", "upper case", "first 16", "in groups"],
)
def test_an_earlier_root_holds_after_more_was_written(
    store: SqlStore, shorten: Callable[[str], str]
) -> None:
    root = fill(store).root
    add(store, replace(ENTRY, key="after", property_number="M-002"))
    sealed(store, days=7)

    found = verified(store, root=shorten(root))

    assert (found.is_whole, found.given_at) == (True, STAMP.at)


def test_the_root_now_holds_though_it_was_not_kept(store: SqlStore) -> None:
    load_units(store)

    found = verified(store, root=verified(store).root)

    assert (found.is_whole, found.given_at) == (True, None)


def test_a_root_of_another_record_is_refused_in_plain_words(store: SqlStore) -> None:
    fill(store)

    found = verified(store, root="0123456789abcdef")

    assert not found.is_whole
    assert found.root_problem == (
        "root 0123456789abcdef was never given out of this record: it is not a continuation of the"
        " one that root was printed of"
    )


def test_a_record_cut_back_with_its_seals_no_longer_knows_the_root(store: SqlStore) -> None:
    """As if an earlier backup had been put in the place of the record: it is whole by itself."""
    fill(store)
    earlier = verified(store).root
    load_heads = "SELECT chain, seq, hash FROM chain_head"
    with store.begin() as record:
        heads = record._connection.exec_driver_sql(load_heads).all()
    add(store, replace(ENTRY, key="later", property_number="M-003"))
    printed = sealed(store, days=7)
    seal_head = next(head for head in heads if head.chain == "seal")
    tamper(
        store,
        "DELETE FROM entry WHERE key = 'later'",
        "DELETE FROM chain_head WHERE chain = 'entry/M-003'",
        "DELETE FROM seal WHERE seq = 2",
        "UPDATE chain_head SET seq = :seq, hash = :hash WHERE chain = 'seal'",
        seq=seal_head.seq,
        hash=seal_head.hash,
    )

    assert verified(store).is_whole
    assert verified(store, root=earlier).is_whole
    assert verified(store, root=printed).root_problem == (
        f"root {printed[:16]} was never given out of this record: it is not a continuation of the"
        " one that root was printed of"
    )


def test_a_root_that_was_given_out_but_does_not_hold_is_told(store: SqlStore) -> None:
    root = fill(store).root
    tamper(store, "UPDATE entry SET hash = prev_hash WHERE key = 'other-2'")

    assert verified(store, root=root).root_problem == (
        f"root {root[:16]} was given out, but does not hold any more: the record is not a"
        " continuation of the one that root was printed of"
    )


def test_of_broken_seals_no_root_can_be_told(store: SqlStore) -> None:
    root = fill(store).root
    tamper(store, "UPDATE seal SET lengths = 'none'")

    found = verified(store, root=root)

    assert [flaw.chain for flaw in found.flaws] == ["seal"]
    assert found.root_problem == (
        f"whether root {root[:16]} was given out cannot be told: the seals are broken"
    )


@pytest.mark.parametrize("root", ["", "0123456789abcde", "xyz", "g" * 64, "0" * 65])
def test_what_is_no_root_is_refused(store: SqlStore, root: str) -> None:
    load_units(store)
    with pytest.raises(BadInput) as refusal:
        verified(store, root=root)

    assert str(refusal.value) == (
        f"--root: '{root}' is no root hash; give the 64 digits 0-9 and a-f, or the first 16 or"
        " more, as they were printed"
    )


def test_progress_is_told_every_line(store: SqlStore) -> None:
    fill(store)
    told: list[int] = []

    class Telling:
        def step(self, rows: int) -> None:
            told.append(rows)

    with store.begin() as record:
        found = verify(record, HOLIDAYS, rebuild=False, root=None, progress=Telling())

    assert sum(told) == found.lines == sum(WHOLE.values())


def test_an_empty_fleet_is_whole(store: SqlStore) -> None:
    found = verified(store, rebuild=False)

    assert (found.chains, found.lines) == (0, 0)
    assert found.root == hashlib.sha256(b"").hexdigest()
    assert found == Verification(chains=0, lines=0, root=found.root)
