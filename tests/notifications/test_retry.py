"""When a message is tried again, and whether its address is at fault."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from notifications.retry import GIVES_UP_AFTER, is_hard_bounce, retry_at

AT = dt.datetime(2026, 11, 30, 13, 0, tzinfo=dt.UTC)
KEY = "80000000" + "0" * 24
KEYS = st.integers(0, 2**128 - 1).map(lambda n: f"{n:032x}")


def minutes(attempts: int, code: int | None = 451, answer: str = "", key: str = KEY) -> float:
    next_at = retry_at(key, attempts, code, answer, AT, AT)
    assert next_at is not None
    return (next_at - AT).total_seconds() / 60


@given(KEYS)
def test_the_waits_grow_to_six_hours_and_vary_by_a_fifth_at_most(key: str) -> None:
    for attempts, usual in enumerate([5, 15, 30, 60, 120, 240, 360, 360, 360], start=1):
        assert 0.8 * usual <= minutes(attempts, key=key) <= 1.2 * usual


@given(KEYS, st.integers(1, 9))
def test_the_same_message_always_waits_as_long(key: str, attempts: int) -> None:
    assert minutes(attempts, key=key) == minutes(attempts, key=key)


def test_messages_do_not_all_come_back_at_once() -> None:
    assert len({minutes(1, key=f"{n * 40503 % 65536:04x}" + "0" * 28) for n in range(100)}) > 50


@pytest.mark.parametrize(
    ("code", "answer"),
    [
        (452, "MAIL: 4.3.1 Insufficient system storage"),
        (450, "RCPT: 4.2.2 mailbox full"),
        (552, "RCPT: 5.2.2 mailbox full"),
    ],
)
def test_what_is_full_is_asked_again_after_half_an_hour_first(code: int, answer: str) -> None:
    assert 24 <= minutes(1, code, answer) <= 36


def test_after_three_days_a_message_is_given_up() -> None:
    """RFC 5321 4.5.4.1 allows four to five days; a digest is stale before that."""
    late = AT + GIVES_UP_AFTER - dt.timedelta(hours=1)

    assert retry_at(KEY, 20, 451, "", AT, late) is None
    assert retry_at(KEY, 1, 451, "", AT, late) is not None


@pytest.mark.parametrize(
    ("code", "answer", "is_hard"),
    [
        # RFC 3463 3.2 and 3.3: X.1.1 bad mailbox, X.1.2 bad system, X.1.6 moved, X.2.1 disabled.
        (550, "RCPT: 5.1.1 no such user", True),
        (550, "RCPT: 5.1.2 no such host", True),
        (551, "RCPT: 5.1.6 moved", True),
        (550, "RCPT: 5.2.1 mailbox disabled", True),
        (550, "RCPT: no such user", True),
        (553, "RCPT: mailbox name not allowed", True),
        # X.7.1: we may not write to it; X.2.2 it is full; X.3.4 too big: the address is right.
        (550, "RCPT: 5.7.1 blocked", False),
        (554, "DATA: 5.7.1 looks like spam", False),
        (552, "RCPT: 5.2.2 mailbox full", False),
        (554, "DATA: no", False),
        (451, "RCPT: 4.1.1 later", False),
        (None, "bent", False),
    ],
)
def test_only_a_reply_about_the_address_counts_against_it(
    code: int | None, answer: str, is_hard: bool
) -> None:
    assert is_hard_bounce(code, answer) is is_hard
