"""The outbox on both databases: each message once, and each step of it kept."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from threading import Barrier, Thread

import pytest

from fleet.services.mail_ports import AddressState, OutboxRow
from fleet.storage import SqlStore
from notifications.messages import Kind
from notifications.outbox import Pause, Settled, State
from tests.fleet.storage.outbox_examples import LEASE, NOW, a_planned, claimed, plan

SENT = Settled(state=State.SENT, at=NOW, code=250, answer="taken")
BOUNCE = Settled(
    state=State.DEAD, at=NOW, code=550, answer="RCPT: 5.1.1 no such user", is_hard_bounce=True
)
MONDAY = dt.date(2026, 11, 30)


def rows(store: SqlStore, *states: State) -> list[OutboxRow]:
    with store.begin() as record:
        return list(record.mail.rows(states))


def states(store: SqlStore) -> dict[str, str]:
    return {row.recipient.partition("@")[0]: row.state.value for row in rows(store)}


def test_a_message_is_planned_once_and_a_day_has_one(store: SqlStore) -> None:
    again = a_planned("ana", MONDAY, subject="Another text of the same")
    other = a_planned("ana", MONDAY, kind=Kind.GAPS, period="2026-11")
    change = a_planned("ana", None, kind=Kind.VISIT, period="9c/1")

    assert plan(store, a_planned("ana", MONDAY)) == [True]
    assert plan(store, again, other, change) == [False, False, True]
    assert [row.subject for row in rows(store)].count("For ana") == 2
    with store.begin() as record:
        assert record.mail.keys(NOW) == {
            ("ana@lab.example", Kind.SITE_LEAD, "2026-W49"),
            ("ana@lab.example", Kind.VISIT, "9c/1"),
        }
        assert record.mail.keys(NOW + dt.timedelta(seconds=1)) == set()
        assert record.mail.days(MONDAY) == {("ana@lab.example", MONDAY)}
        assert record.mail.days(MONDAY + dt.timedelta(days=1)) == set()


def test_the_bytes_of_a_message_are_those_that_were_planned(store: SqlStore) -> None:
    planned = a_planned("ana", MONDAY)
    plan(store, planned)

    (one,) = claimed(store)
    with store.begin() as record:
        assert planned.mail is not None
        assert one.content == planned.mail
        assert record.mail.content(planned.key) == planned.mail.content


def test_what_is_not_sent_is_decided_too_and_never_claimed(store: SqlStore) -> None:
    plan(store, a_planned("ana", None, mail=None, reason="nothing to do"))

    (row,) = rows(store)
    assert (row.state, row.reason, row.day) == (State.SUPPRESSED, "nothing to do", None)
    assert claimed(store) == []


def test_a_claimed_message_is_nobody_elses_until_its_lease_ends(store: SqlStore) -> None:
    plan(store, a_planned("ana"), a_planned("ben"))

    assert len(claimed(store, "one", limit=1)) == 1
    assert len(claimed(store, "two")) == 1
    assert claimed(store, "three", NOW + LEASE - dt.timedelta(seconds=1)) == []
    late = claimed(store, "three", NOW + LEASE)
    assert [(one.attempts, one.is_uncertain) for one in late] == [(2, True), (2, True)]
    assert [row.uncertain for row in rows(store)] == [1, 1]


def test_who_has_lost_the_lease_settles_nothing(store: SqlStore) -> None:
    plan(store, a_planned("ana"))
    (one,) = claimed(store, "slow")
    claimed(store, "quick", NOW + LEASE)

    store.outbox.settle("slow", one.key, SENT)
    store.outbox.give_back("slow", [one.key], NOW)
    assert states(store) == {"ana": "sending"}

    store.outbox.settle("quick", one.key, SENT)
    assert states(store) == {"ana": "sent"}


def test_two_at_once_claim_no_message_twice(store: SqlStore) -> None:
    plan(store, *(a_planned(f"r{n:02d}") for n in range(40)))
    gate = Barrier(4)
    found: list[str] = []

    def take(owner: str) -> None:
        gate.wait()
        while some := claimed(store, owner, limit=3):
            found.extend(one.key for one in some)

    threads = [Thread(target=take, args=(f"w{n}",)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(found) == len(set(found)) == 40


def test_a_deferred_message_waits_for_its_time(store: SqlStore) -> None:
    plan(store, a_planned("ana"))
    (one,) = claimed(store)
    later = NOW + dt.timedelta(minutes=5)
    store.outbox.settle(
        "me",
        one.key,
        Settled(state=State.DEFERRED, at=NOW, code=451, answer="later", next_at=later),
    )

    assert claimed(store, at=later - dt.timedelta(seconds=1)) == []
    assert [one.attempts for one in claimed(store, at=later)] == [2]


def test_what_was_given_back_was_no_attempt(store: SqlStore) -> None:
    plan(store, a_planned("ana"))
    (one,) = claimed(store)
    store.outbox.give_back("me", [one.key], NOW)

    (again,) = claimed(store)
    assert (again.attempts, again.is_uncertain) == (1, False)


def test_what_is_stale_is_not_sent_any_more(store: SqlStore) -> None:
    plan(store, a_planned("ana"))
    late = NOW + dt.timedelta(days=3)

    assert claimed(store, at=late) == []
    (row,) = rows(store)
    assert (row.state, row.reason) == (State.DEAD, "too late: what it says is no longer news")


@pytest.fixture
def bounced(store: SqlStore) -> SqlStore:
    """An address that has refused three messages in a row."""
    for number in range(3):
        plan(store, a_planned("gone", None, period=f"2026-W{10 + number}"))
        (one,) = claimed(store)
        store.outbox.settle("me", one.key, BOUNCE)
    return store


def test_three_refusals_in_a_row_suspend_an_address(bounced: SqlStore) -> None:
    plan(bounced, a_planned("gone"), a_planned("ana"))

    assert [one.content.envelope_to for one in claimed(bounced)] == ["ana@lab.example"]
    (row,) = rows(bounced, State.SUPPRESSED)
    assert row.reason == (
        "the address is suspended after 3 refusals in a row, the last: RCPT: 5.1.1 no such user"
    )
    with bounced.begin() as record:
        assert record.mail.addresses() == [
            AddressState(
                address="gone@lab.example",
                refusals=3,
                suspended_at=NOW,
                answer="RCPT: 5.1.1 no such user",
            )
        ]


def test_a_suspended_address_is_written_to_again_when_a_person_says_so(bounced: SqlStore) -> None:
    plan(bounced, a_planned("gone"))
    claimed(bounced)
    with bounced.begin(write=True) as record:
        assert record.mail.resume("gone@lab.example")
        assert not record.mail.resume("gone@lab.example")
        (row,) = record.mail.rows((State.SUPPRESSED,))
        assert record.mail.retry([row.key], NOW) == 1
        record.commit()

    assert len(claimed(bounced)) == 1


def test_a_message_that_arrives_clears_the_refusals_before_it(store: SqlStore) -> None:
    for number, settled in enumerate((BOUNCE, BOUNCE, SENT, BOUNCE)):
        plan(store, a_planned("ana", None, period=f"2026-W{10 + number}"))
        (one,) = claimed(store)
        store.outbox.settle("me", one.key, settled)

    with store.begin() as record:
        assert [(one.refusals, one.suspended_at) for one in record.mail.addresses()] == [(1, None)]


def test_a_domain_gets_so_many_a_minute_whoever_sends(store: SqlStore) -> None:
    plan(store, *(a_planned(f"r{n}") for n in range(5)), a_planned("ana@other.example"))

    first = claimed(store, "one", per_minute=2)
    domains = sorted(one.content.envelope_to.partition("@")[2] for one in first)
    assert domains == ["lab.example", "lab.example", "other.example"]
    for one in first:
        store.outbox.settle("one", one.key, SENT)
    assert claimed(store, "two", NOW + dt.timedelta(seconds=59), per_minute=2) == []
    assert len(claimed(store, "two", NOW + dt.timedelta(seconds=60), per_minute=2)) == 2


def test_sending_stops_until_the_pause_is_over(store: SqlStore) -> None:
    assert store.outbox.pause() is None
    store.outbox.set_pause(Pause(NOW, "the server asks for a login"))
    assert store.outbox.pause() == Pause(NOW, "the server asks for a login")
    store.outbox.set_pause(None)
    assert store.outbox.pause() is None


def test_a_person_may_take_a_message_back_and_send_it_after_all(store: SqlStore) -> None:
    planned = a_planned("ana", MONDAY)
    plan(store, planned)
    with store.begin(write=True) as record:
        assert record.mail.suppress([planned.key], "she has left", NOW) == 1
        record.commit()
    assert claimed(store) == []
    with store.begin(write=True) as record:
        assert record.mail.retry([planned.key], NOW) == 1
        assert record.mail.suppress(["0" * 32], "unknown", NOW) == 0
        record.commit()
    assert len(claimed(store)) == 1


def test_a_message_that_was_given_up_may_be_tried_for_another_day(store: SqlStore) -> None:
    plan(store, a_planned("ana"))
    late = NOW + dt.timedelta(days=30)
    claimed(store, at=late)
    with store.begin(write=True) as record:
        (row,) = record.mail.rows((State.DEAD,))
        assert record.mail.retry([row.key], late) == 1
        record.commit()

    assert len(claimed(store, at=late)) == 1
    assert claimed(store, "other", at=late + dt.timedelta(days=2)) == []


def test_what_was_told_is_remembered_with_its_days(store: SqlStore) -> None:
    tuesday = MONDAY + dt.timedelta(days=1)
    with store.begin(write=True) as record:
        record.mail.tell(
            "ana@lab.example", {"duty/A-1/optics": "due", "gap/A-1/optics": "3"}, MONDAY
        )
        record.mail.tell("ana@lab.example", {"duty/A-1/optics": "overdue"}, tuesday)
        record.mail.tell("ana@lab.example", {}, tuesday)
        record.commit()
    with store.begin() as record:
        told = record.mail.told("ana@lab.example")
        assert record.mail.told("ben@lab.example") == {}
    one = told["duty/A-1/optics"]
    assert (one.standing, one.first_on, one.last_on, one.times) == ("overdue", MONDAY, tuesday, 2)
    assert told["gap/A-1/optics"].times == 1


def test_the_beginning_of_a_key_names_a_message_where_it_is_the_only_one(store: SqlStore) -> None:
    plan(store, *(a_planned(f"r{n}") for n in range(40)))
    with store.begin() as record:
        every = record.mail.rows()
        one = every[0]
        assert record.mail.row(one.key[:12]) == one
        assert record.mail.row("") is None
        assert record.mail.row("%") is None
        assert record.mail.row("z") is None


def test_the_text_of_what_was_settled_long_ago_goes_and_its_line_stays(store: SqlStore) -> None:
    old, waiting = a_planned("ana"), a_planned("ben")
    plan(store, old, waiting)
    one = next(one for one in claimed(store) if one.key == old.key)
    store.outbox.settle("me", one.key, SENT)
    with store.begin(write=True) as record:
        assert record.mail.prune(NOW) == 0
        assert record.mail.prune(NOW + dt.timedelta(days=90)) == 1
        record.commit()
    with store.begin() as record:
        assert record.mail.content(old.key) is None
        assert record.mail.content(waiting.key) is not None
        assert len(record.mail.rows()) == 2


def test_a_reader_s_unit_of_work_writes_nothing(store: SqlStore) -> None:
    with store.begin() as record, pytest.raises(RuntimeError, match="begun for reading"):
        record.mail.add([a_planned("ana")])


def test_planning_that_is_not_committed_leaves_nothing(store: SqlStore) -> None:
    with store.begin(write=True) as record:
        record.mail.add([a_planned("ana")])
        record.mail.tell("ana@lab.example", {"duty/A-1/optics": "due"}, MONDAY)

    assert rows(store) == []
    assert plan(store, replace(a_planned("ana"), subject="Later")) == [True]
