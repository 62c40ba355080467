"""From the record to a receiver over TLS, through the states of the outbox, on both databases."""

from __future__ import annotations

import datetime as dt
import json
import ssl
import time
from collections.abc import Iterator
from threading import Barrier, Thread

import pytest

from fleet.domain.webhooks import FORMER_SECRET_FOR, Webhook
from fleet.errors import NotFound
from fleet.services.outbox import retry, suppress
from fleet.services.webhook_ports import DeliveryRow
from fleet.services.webhooks.subscriptions import draw_another, end, paused, try_out
from fleet.storage.call_store import FAILS_FOR
from notifications.calls import CallDoor
from notifications.dispatch import LEASE, Sender, Tally
from notifications.messages import Call
from notifications.outbox import Answer, State
from tests.fleet.services.webhooks.told_fleet import KEY, Told
from tests.https_receiver import HOST, Receiver, answer, guard_of, is_signed
from tests.tls_certificates import Certificates, make_certificates


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Certificates:
    return make_certificates(tmp_path_factory.mktemp("certificates"), {"right": HOST})


@pytest.fixture
def receiver(known: Certificates) -> Iterator[Receiver]:
    with Receiver(known.context("right")) as opened:
        yield opened


@pytest.fixture
def sending(told: Told, receiver: Receiver, known: Certificates) -> Told:
    """The receiver subscribed to everything, and the process sends."""
    guard, _ = guard_of(known.file("right"))
    told.sends_with(lambda: CallDoor(lambda: told.now[0], time.monotonic, guard))
    told.subscribe(url=receiver.url)
    return told


def send(told: Told) -> Tally:
    """One minute of the process."""
    told.look()
    return told.work.send(lambda: False)


def webhook(told: Told) -> Webhook:
    with told.store.begin() as record:
        found = record.webhooks.find("W1")
    assert found is not None
    return found


def row(told: Told) -> DeliveryRow:
    (one,) = told.rows()
    return one


def test_a_service_arrives_signed_and_is_sent_once(sending: Told, receiver: Receiver) -> None:
    sending.serves("A-1", "2026-03-02")
    assert send(sending).sent == 1
    assert send(sending).sent == 0
    (one,) = receiver.asked
    assert is_signed(one, webhook(sending).secret)
    assert json.loads(one.body)["property_number"] == "A-1"
    assert json.loads(one.body)["id"] == one.headers["webhook-id"]
    assert (row(sending).state, row(sending).code, row(sending).attempts) == (State.SENT, 204, 1)


def test_what_was_put_off_is_sent_again_later_under_the_same_name(
    sending: Told, receiver: Receiver
) -> None:
    receiver.says += [answer(500), answer(200)]
    sending.serves("A-1", "2026-03-02")
    assert send(sending).deferred == 1
    put_off = row(sending)
    assert (put_off.state, put_off.code, put_off.answer) == (State.DEFERRED, 500, "not now")
    assert put_off.next_at is not None
    wait = put_off.next_at - sending.now[0]
    assert dt.timedelta(minutes=4) <= wait <= dt.timedelta(minutes=6), "as a mail waits"
    assert send(sending).tried == 0
    sending.now[0] = put_off.next_at
    assert send(sending).sent == 1
    first, second = receiver.asked
    assert first.body == second.body
    assert first.headers["webhook-id"] == second.headers["webhook-id"]
    assert int(second.headers["webhook-timestamp"]) - int(first.headers["webhook-timestamp"]) == (
        int(wait.total_seconds())
    )
    assert is_signed(second, webhook(sending).secret)


def test_a_receiver_s_wish_to_wait_is_honoured(sending: Told, receiver: Receiver) -> None:
    receiver.says.append(answer(429, "Retry-After: 7200"))
    sending.serves("A-1", "2026-03-02")
    send(sending)
    assert row(sending).next_at == sending.now[0] + dt.timedelta(hours=2)


def test_a_wish_to_wait_longer_than_it_is_tried_ends_it(sending: Told, receiver: Receiver) -> None:
    receiver.says.append(answer(503, "Retry-After: 400000"))
    sending.serves("A-1", "2026-03-02")
    assert send(sending).dead == 1
    assert (row(sending).state, row(sending).reason) == (State.DEAD, "given up: not now")


def test_a_refusal_is_final_with_its_reason_and_others_still_go(
    sending: Told, receiver: Receiver
) -> None:
    receiver.says.append(answer(404))
    sending.serves("A-1", "2026-03-02")
    assert send(sending).dead == 1
    assert (row(sending).state, row(sending).code, row(sending).reason) == (
        State.DEAD,
        404,
        "refused",
    )
    assert webhook(sending).failing_since_at == sending.now[0]
    sending.passes(minutes=1)
    sending.serves("B-1", "2026-03-03")
    assert send(sending).sent == 1
    assert webhook(sending).failing_since_at is None


def test_who_is_gone_is_sent_nothing_more(sending: Told, receiver: Receiver) -> None:
    receiver.says.append(answer(410))
    sending.serves("A-1", "2026-03-02")
    send(sending)
    assert row(sending).reason == "gone: it wants no more"
    assert webhook(sending).paused_at == sending.now[0]
    sending.serves("B-1", "2026-03-03")
    assert send(sending).tried == 0


def fail_for_days(told: Told, receiver: Receiver) -> list[dt.timedelta]:
    """The receiver is down for good; when it was tried, from the first time on."""
    receiver.says += [answer(502)] * 100
    told.serves("A-1", "2026-03-02")
    began_at, tried = told.now[0], []
    while webhook(told).paused_at is None:
        if send(told).tried:
            tried.append(told.now[0] - began_at)
        told.passes(minutes=30)
        assert told.now[0] < began_at + dt.timedelta(days=4)
    return tried


def test_a_receiver_that_fails_for_days_is_sent_nothing_until_it_is_mended(
    sending: Told, receiver: Receiver
) -> None:
    tried = fail_for_days(sending, receiver)
    assert len(tried) > 8
    assert FAILS_FOR <= tried[-1] < FAILS_FOR + dt.timedelta(hours=8)
    with sending.store.begin() as record:
        assert [one.number for one in paused(record)] == ["W1"]
    asked = len(receiver.asked)
    sending.passes(hours=8)
    assert send(sending).tried == 0
    assert len(receiver.asked) == asked
    sending.passes(days=1)
    send(sending)
    assert (row(sending).state, row(sending).reason) == (
        State.DEAD,
        "too late: what it says is no longer news",
    )


def test_a_test_that_arrives_lets_a_paused_receiver_go_on(
    sending: Told, receiver: Receiver
) -> None:
    fail_for_days(sending, receiver)
    receiver.says.clear()
    sending.serves("B-1", "2026-03-05")
    assert send(sending).tried == 0
    done = try_it(sending)
    assert (done.state, done.subject) == (State.SENT, "test")
    assert (webhook(sending).paused_at, webhook(sending).failing_since_at) == (None, None)
    assert send(sending).sent == 1, "what waited"
    sending.passes(hours=8)
    assert send(sending).sent == 1, "what was put off until then"


def try_it(told: Told, turn: str = "t1") -> DeliveryRow:
    assert told.door is not None
    return try_out(told.store, told.door(), "W1", turn, "page", lambda: told.now[0])


def test_a_test_is_told_at_once_how_it_went(sending: Told, receiver: Receiver) -> None:
    receiver.says += [answer(500), answer(403)]
    first = try_it(sending)
    assert (first.state, first.code, first.answer) == (State.DEFERRED, 500, "not now")
    assert try_it(sending, "t2").state is State.DEAD
    assert try_it(sending, "t3").state is State.SENT
    body = json.loads(receiver.asked[-1].body)
    assert body["type"] == "test"
    assert set(body) == {"type", "id", "timestamp", "page"}
    assert is_signed(receiver.asked[-1], webhook(sending).secret)


def test_a_test_sends_nothing_else_that_waits(sending: Told, receiver: Receiver) -> None:
    sending.serves("A-1", "2026-03-02")
    sending.look()
    try_it(sending)
    assert [json.loads(one.body)["type"] for one in receiver.asked] == ["test"]


def test_both_secrets_sign_until_the_former_one_ends(sending: Told, receiver: Receiver) -> None:
    former = webhook(sending).secret
    with sending.store.begin(write=True) as record:
        present = draw_another(record, "W1", KEY[::-1], sending.now[0]).secret
        record.commit()
    sending.passes(seconds=FORMER_SECRET_FOR.total_seconds() - 1)
    try_it(sending)
    sending.passes(seconds=1)
    try_it(sending, "t2")
    during, after = receiver.asked
    assert is_signed(during, present)
    assert is_signed(during, former)
    assert is_signed(after, present)
    assert not is_signed(after, former)


def test_who_ended_it_is_sent_nothing_more(sending: Told, receiver: Receiver) -> None:
    sending.serves("A-1", "2026-03-02")
    sending.look()
    with sending.store.begin(write=True) as record:
        ended = end(record, "W1", sending.now[0])
        record.commit()
    assert ended.secret == ""
    assert send(sending).tried == 0
    assert (row(sending).state, row(sending).reason) == (
        State.SUPPRESSED,
        "the webhook was ended",
    )
    assert receiver.asked == []
    with pytest.raises(NotFound, match="no webhook 'W1'"):
        try_it(sending)


def test_two_processes_at_once_send_each_message_once(sending: Told, receiver: Receiver) -> None:
    sending.now[0] = dt.datetime(2026, 3, 31, 18, tzinfo=dt.UTC)
    for day in range(1, 25):
        sending.serves("A-1", f"2026-03-{day:02}")
    assert sending.look() == 24
    works = [sending.another(f"p{n}") for n in range(3)]
    gate, tallies = Barrier(3), list[Tally]()

    def run(number: int) -> None:
        gate.wait()
        tallies.append(works[number].send(lambda: False))

    threads = [Thread(target=run, args=(n,)) for n in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(tally.sent for tally in tallies) == 24
    names = [one.headers["webhook-id"] for one in receiver.asked]
    assert len(names) == len(set(names)) == 24


class Killed(BaseException):
    """The process is gone."""


class Dying:
    """Sends, and is killed before the answer is noted."""

    def __init__(self, door: Sender[Call]) -> None:
        self._door = door

    def send(self, content: Call) -> Answer:
        self._door.send(content)
        raise Killed


def test_what_was_sent_and_not_noted_is_sent_again_under_the_same_name(
    sending: Told, receiver: Receiver
) -> None:
    door = sending.door
    assert door is not None
    sending.sends_with(lambda: Dying(door()))
    sending.serves("A-1", "2026-03-02")
    sending.look()
    with pytest.raises(Killed):
        sending.work.send(lambda: False)
    assert row(sending).state is State.SENDING
    sending.sends_with(door)
    assert send(sending).tried == 0, "its lease has not run out"
    sending.passes(seconds=LEASE.total_seconds())
    tally = send(sending)
    assert (tally.sent, tally.uncertain) == (1, 1)
    first, second = receiver.asked
    assert first.headers["webhook-id"] == second.headers["webhook-id"]
    assert first.body == second.body
    assert row(sending).uncertain == 1


def test_others_may_write_while_a_receiver_thinks(sending: Told, receiver: Receiver) -> None:
    wrote = []

    def writes(wire: ssl.SSLSocket) -> None:
        sending.serves("B-1", "2026-03-03")
        wrote.append(True)
        answer(200)(wire)

    receiver.says.append(writes)
    sending.serves("A-1", "2026-03-02")
    assert send(sending).sent == 1
    assert wrote == [True]


def test_a_receiver_that_is_down_holds_up_nobody(sending: Told, receiver: Receiver) -> None:
    sending.subscribe("W2", url=receiver.url, region="South")
    receiver.says.append(answer(503))
    for number, on in (("A-1", "2026-03-01"), ("A-1", "2026-03-02"), ("B-1", "2026-03-02")):
        sending.serves(number, on)
    tally = send(sending)
    assert (tally.deferred, tally.sent) == (1, 1), "one try of the one, and all of the other"
    waiting = [one for one in sending.rows("W1") if one.state is State.QUEUED]
    assert [one.attempts for one in waiting] == [0, 0], "what was not tried is no attempt"
    sending.passes(minutes=1)
    assert send(sending).sent == 2


def test_mail_does_not_wait_for_slow_receivers(
    sending: Told, receiver: Receiver, known: Certificates
) -> None:
    def takes_20_seconds(wire: ssl.SSLSocket) -> None:
        sending.passes(seconds=20)
        answer(200)(wire)

    receiver.says += [takes_20_seconds] * 5
    for day in range(1, 4):
        sending.serves("A-1", f"2026-03-0{day}")
    assert send(sending).sent == 2
    assert sorted(one.state for one in sending.rows()) == [State.QUEUED, State.SENT, State.SENT]
    assert send(sending).sent == 1


def test_a_person_sends_a_message_again_or_takes_it_back(sending: Told, receiver: Receiver) -> None:
    receiver.says += [answer(400), answer(503)]
    sending.serves("A-1", "2026-03-02")
    send(sending)
    retry(sending.store, [row(sending).key[:8]], sending.now[0])
    assert row(sending).state is State.QUEUED
    assert send(sending).deferred == 1
    suppress(sending.store, [row(sending).key[:8]], "not needed", sending.now[0])
    assert (row(sending).state, row(sending).reason) == (State.SUPPRESSED, "not needed")


def test_the_body_of_what_was_settled_long_ago_goes_and_its_line_stays(sending: Told) -> None:
    sending.serves("A-1", "2026-03-02")
    send(sending)
    with sending.store.begin(write=True) as record:
        assert record.webhooks.prune(sending.now[0]) == 0
        assert record.webhooks.prune(sending.now[0] + dt.timedelta(days=90)) == 1
        assert record.webhooks.prune(sending.now[0] + dt.timedelta(days=90)) == 0
        record.commit()
    assert not row(sending).has_body
