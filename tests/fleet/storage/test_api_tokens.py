"""Do the tokens of programs stand in both databases as they were given?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleet.domain.access import ApiToken
from fleet.errors import StoreError
from fleet.storage import SqlStore

MADE_AT = dt.datetime(2026, 3, 3, 18, tzinfo=dt.UTC)


def token(number: str = "AB12CD34", **more: object) -> ApiToken:
    plain = ApiToken(
        number=number,
        token_hash=f"{number}-hash",
        name="the wall board",
        email="lead@alder.example",
        may_write=True,
        made_at=MADE_AT,
        ends_at=MADE_AT + dt.timedelta(days=30),
    )
    return replace(plain, **more)  # type: ignore[arg-type]


def keep(store: SqlStore, *tokens: ApiToken) -> None:
    with store.begin(write=True) as record:
        for one in tokens:
            record.access.put_api_token(one)
        record.commit()


def test_a_token_is_found_by_its_hash_and_among_its_owners(store: SqlStore) -> None:
    later = token("EF56AB78", made_at=MADE_AT + dt.timedelta(minutes=1), may_write=False)
    keep(store, token(), later, token("99999999", email="other@cedar.example"))
    with store.begin() as record:
        assert record.access.api_token("AB12CD34-hash") == token()
        assert record.access.api_token("made-up") is None
        assert record.access.api_tokens("lead@alder.example") == [later, token()]


def test_a_token_is_written_over_and_its_use_noted(store: SqlStore) -> None:
    keep(store, token())
    ended = token(ended_at=MADE_AT + dt.timedelta(hours=1))
    keep(store, ended)
    seen_at = MADE_AT + dt.timedelta(hours=2)
    with store.begin(write=True) as record:
        record.access.see_api_token("AB12CD34", seen_at)
        record.commit()
    with store.begin() as record:
        assert record.access.api_tokens("lead@alder.example") == [replace(ended, seen_at=seen_at)]


def test_no_two_tokens_have_one_hash(store: SqlStore) -> None:
    keep(store, token())
    with pytest.raises(StoreError):
        keep(store, token("EF56AB78", token_hash="AB12CD34-hash"))
