"""The bytes that are hashed: frozen, so written out here by hand."""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.domain.records import Entry, Mark
from fleet.services.ports import Stamp
from fleet.storage.canonical import START, canonical_json, entry_content, instant_text, link
from tests.fleet.storage.examples import ENTRY, STAMP

LINE = (
    '{"by":"r.alder","initials":"RÄ","key":"M-001/optics/2026-03-02/1","mark":"done",'
    '"note":"said \\"fine\\"\\n","on":"2026-03-02","property_number":"M-001","reading":"4.5",'
    '"recorded_at":"2026-03-02T11:30:00.000000Z","seq":7,"source":"command",'
    '"stored_at":"2026-03-02T12:00:00.000000Z","strikes":"","task":"optics","to_on":null,"why":""}'
)


def test_content_of_an_entry_is_frozen() -> None:
    central = dt.timezone(dt.timedelta(hours=-6))
    entry = replace(
        ENTRY,
        initials="RÄ",
        note='said "fine"\n',
        reading="4.5",
        recorded_at=dt.datetime(2026, 3, 2, 5, 30, tzinfo=central),
    )

    assert entry_content(entry, 7, STAMP) == LINE


def test_hash_is_sha_256_of_version_previous_hash_and_content() -> None:
    previous = bytes(range(32))

    assert (
        link(previous, LINE) == hashlib.sha256(b"\x01" + previous + LINE.encode("utf-8")).digest()
    )
    assert bytes(32) == START


def test_strings_are_written_as_in_rfc_8785() -> None:
    """RFC 8785 section 3.2.4: the member 'string' of its sample, as bytes."""
    published = "22 e2 82 ac 24 5c 75 30 30 30 66 5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c 22 2f 22"
    sample = "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/"

    assert canonical_json([sample]).encode() == b"[" + bytes.fromhex(published) + b"]"


def test_literals_and_key_order_are_as_in_rfc_8785() -> None:
    """RFC 8785 section 3.2.3: keys sorted, no white space, null, true and false as they are."""
    assert canonical_json({"b": None, "a": True, "1": False}) == '{"1":false,"a":true,"b":null}'


@given(
    texts=st.lists(st.text(), min_size=9, max_size=9),
    on=st.dates(),
    to_on=st.none() | st.dates(),
    mark=st.none() | st.sampled_from(Mark),
    seq=st.integers(1, 10**9),
    recorded_at=st.none() | st.datetimes(timezones=st.just(dt.UTC)),
)
def test_entry_content_is_canonical_json_of_its_fields(
    texts: list[str],
    on: dt.date,
    to_on: dt.date | None,
    mark: Mark | None,
    seq: int,
    recorded_at: dt.datetime | None,
) -> None:
    names = ("key", "property_number", "task", "initials", "note", "reading", "strikes", "why")
    words = dict(zip(names, texts, strict=False))
    entry = Entry(**words, on=on, to_on=to_on, mark=mark, recorded_at=recorded_at)
    stamp = Stamp(at=STAMP.at, by=texts[8], source="file")

    assert entry_content(entry, seq, stamp) == canonical_json(
        {
            **words,
            "on": on.isoformat(),
            "to_on": None if to_on is None else to_on.isoformat(),
            "mark": None if mark is None else mark.value,
            "recorded_at": None if recorded_at is None else instant_text(recorded_at),
            "seq": seq,
            "by": stamp.by,
            "source": stamp.source,
            "stored_at": "2026-03-02T12:00:00.000000Z",
        }
    )


def test_instant_is_written_in_utc_with_six_digits() -> None:
    nepal = dt.timezone(dt.timedelta(hours=5, minutes=45))

    assert (
        instant_text(dt.datetime(2026, 1, 1, 0, 15, 0, 5, nepal)) == "2025-12-31T18:30:00.000005Z"
    )


def test_instant_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^2026-03-02T12:00:00 has no time zone; an instant is"):
        instant_text(dt.datetime(2026, 3, 2, 12, 0))  # noqa: DTZ001


@given(one=st.datetimes(timezones=st.just(dt.UTC)), other=st.datetimes(timezones=st.just(dt.UTC)))
def test_texts_of_instants_sort_as_the_instants_do(one: dt.datetime, other: dt.datetime) -> None:
    assert (instant_text(one) < instant_text(other)) == (one < other)
