"""Is every line given with the very text that was hashed? Checked without the program's own code.

The text of a line is JSON in the form of RFC 8785 (JSON Canonicalization Scheme); its hash is the
SHA-256 (FIPS 180-4) of a byte 1, the hash before and that text.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import pytest

from fleet.domain.chain import Line
from fleet.domain.records import Mark
from fleet.storage import SqlStore
from fleet.storage.line_rows import chain_names, raw_lines
from tests.fleet.storage.examples import ENTRY, add, load_units
from tests.fleet.storage.tampering import FULL_ENTRY, WHOLE, fill


def lines_of(store: SqlStore, *chains: str) -> list[Line]:
    with store.begin() as record:
        return list(record.lines(chains or None))


def test_every_hash_follows_from_the_text_and_the_hash_before(store: SqlStore) -> None:
    fill(store)
    before: dict[str, bytes] = defaultdict(lambda: bytes(32))

    for line in lines_of(store):
        given = b"\x01" + before[line.chain] + line.content.encode()
        assert hashlib.sha256(given).digest() == line.hash, line
        before[line.chain] = line.hash

    assert set(before) == set(WHOLE)


def test_every_text_is_in_the_form_of_rfc_8785(store: SqlStore) -> None:
    """For texts, whole numbers, true, false and null that form is what is written here."""
    fill(store)
    for line in lines_of(store):
        content = json.loads(line.content)
        form = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert line.content == form
        assert content["seq"] == line.seq


def test_openssl_finds_the_same_hash(store: SqlStore, tmp_path: Path) -> None:
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("openssl is not installed; hashlib is asked in the tests above")
    fill(store)
    first, second, *_ = lines_of(store, "entry/M-001")
    given = tmp_path / "line"
    given.write_bytes(b"\x01" + first.hash + second.content.encode())

    said = subprocess.run(
        [openssl, "dgst", "-sha256", "-r", str(given)], capture_output=True, text=True, check=True
    )

    assert said.stdout.split()[0] == second.hash.hex()


def test_an_entry_is_given_as_it_was_written(store: SqlStore) -> None:
    fill(store)
    line = lines_of(store, "entry/M-001")[1]

    assert json.loads(line.content) == {
        "by": "r.alder",
        "initials": FULL_ENTRY.initials,
        "key": "full",
        "mark": "done",
        "note": FULL_ENTRY.note,
        "on": "2026-03-03",
        "property_number": "M-001",
        "reading": "4.5",
        "recorded_at": "2026-03-03T14:00:00.000000Z",
        "seq": 2,
        "source": "command",
        "stored_at": "2026-03-02T12:00:00.000000Z",
        "strikes": ENTRY.key,
        "task": "optics",
        "to_on": "2026-03-05",
        "why": "wrong day",
    }


def test_chains_come_in_the_order_of_their_names_and_lines_in_theirs(store: SqlStore) -> None:
    load_units(store, "ä", "b", "B", "z")
    for number in ("z", "ä", "b", "B"):
        marked = replace(ENTRY, property_number=number, key=f"{number}1")
        add(store, marked, replace(marked, key=f"{number}2", mark=Mark.UNUSED))

    found = [(line.chain, line.seq) for line in lines_of(store)]

    assert found == [
        *(("entry/B", 1), ("entry/B", 2), ("entry/b", 1), ("entry/b", 2)),
        *(("entry/z", 1), ("entry/z", 2), ("entry/ä", 1), ("entry/ä", 2)),
        *(("register/site", 1), *(("register/unit", seq) for seq in range(1, 5))),
    ]


def test_only_the_chains_asked_for_are_given(store: SqlStore) -> None:
    fill(store)
    asked = ("seal", "entry/M-002", "register/outage", "entry/nobody", "nothing", "entry/M-002")

    found = {line.chain for line in lines_of(store, *asked)}

    assert found == {"entry/M-002", "register/outage", "seal"}


def test_what_names_a_line_to_a_person_is_given_too(store: SqlStore) -> None:
    fill(store)
    with store.begin() as record:
        connection = record._connection
        names = {
            chain: next(raw_lines(connection, chain)).key
            for chain in set(chain_names(connection)) - {"entry/M-003"}
        }
        (sealed,) = record.seals()

    assert names == {
        "attachment": "report.pdf",
        "entry/M-001": ENTRY.key,
        "entry/M-002": "other",
        "holiday_year": "US NE 2026",
        "register/outage": "M-001 2026-03-02",
        "register/site": "alder-creek",
        "register/unit": "M-001",
        "rule_book": "",
        "seal": sealed.root,
        "tombstone": "disposed",
    }
