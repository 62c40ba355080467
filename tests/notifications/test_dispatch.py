"""Every message is sent, put off or given up, and a fault of ours loses none."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from notifications.dispatch import BATCH, LEASE, PAUSE, dispatch_due
from notifications.errors import BadAddress, ServerFault
from notifications.messages import Mail
from notifications.outbox import Pause, State
from notifications.smtp import Answer, Outcome
from tests.notifications.fake_outbox import START, FakeOutbox

Now = Callable[[], dt.datetime]


class FakeDoor:
    """Answers by the word before the @ of the reader's address."""

    def __init__(self) -> None:
        self.asked: list[str] = []

    def send(self, mail: Mail) -> Answer:
        name = mail.envelope_to.partition("@")[0]
        self.asked.append(name)
        match name:
            case "bent":
                raise BadAddress(mail.envelope_to, "write it as x")
            case "fault":
                raise ServerFault("localhost:25", "MAIL", 530, "no", "mend it")
            case "large":
                raise ServerFault("localhost:25", "SIZE", None, "big", "mend it", is_size=True)
            case "busy":
                return Answer(Outcome.DEFERRED, 451, "RCPT: 4.7.1 try later")
            case "gone":
                return Answer(Outcome.REFUSED, 550, "RCPT: 5.1.1 no such user")
        return Answer(Outcome.SENT, 250, "taken")


def a_mail(name: str) -> Mail:
    return Mail(f"<{name}@state.example>", "digest@state.example", f"{name}@lab.example", b"")


def outbox_of(*names: str) -> FakeOutbox:
    return FakeOutbox([a_mail(name) for name in names])


def states(outbox: FakeOutbox) -> list[str]:
    return [one.state.value for one in outbox.kept.values()]


def at(now: dt.datetime = START) -> Now:
    return lambda: now


def test_each_message_has_its_end() -> None:
    outbox, door = outbox_of("ana", "busy", "gone", "bent", "ben"), FakeDoor()

    tally = dispatch_due(outbox, door, "me", at())

    assert door.asked == ["ana", "busy", "gone", "bent", "ben"]
    assert states(outbox) == ["sent", "deferred", "dead", "dead", "sent"]
    assert (tally.sent, tally.deferred, tally.dead, tally.tried, tally.fault) == (2, 1, 2, 5, "")
    bounces = [one.settled[0].is_hard_bounce for one in outbox.kept.values()]
    assert bounces == [False, False, True, False, False]


@pytest.mark.parametrize("name", ["fault", "large"])
def test_a_fault_of_ours_stops_sending_and_blames_nobody(name: str) -> None:
    outbox, door = outbox_of("ana", name, "ben", "cleo"), FakeDoor()

    tally = dispatch_due(outbox, door, "me", at())

    assert door.asked == ["ana", name]
    assert states(outbox) == ["sent", "queued", "queued", "queued"]
    assert [one.attempts for one in outbox.kept.values()] == [1, 0, 0, 0]
    key = list(outbox.kept)[1]
    faults = {
        "fault": "mail server localhost:25, MAIL: 530 no; mend it",
        "large": f"message {key[:8]}: mail server localhost:25, SIZE: big; mend it",
    }
    assert tally.fault == faults[name]
    assert outbox.paused == Pause(START + PAUSE, tally.fault)


def test_nothing_is_tried_during_a_pause_and_all_goes_on_after_it() -> None:
    outbox, door = outbox_of("ana"), FakeDoor()
    outbox.set_pause(Pause(START + PAUSE, "the server is down"))

    waiting = dispatch_due(outbox, door, "me", at(START + PAUSE - dt.timedelta(seconds=1)))
    assert (door.asked, waiting.fault) == ([], "the server is down")

    done = dispatch_due(outbox, door, "me", at(START + PAUSE))
    assert (door.asked, done.sent, outbox.paused) == (["ana"], 1, None)


def test_a_message_too_large_lets_the_others_pass() -> None:
    outbox, door = outbox_of("large", "ana", "ben"), FakeDoor()
    dispatch_due(outbox, door, "me", at())

    tally = dispatch_due(outbox, door, "me", at(START + PAUSE))

    assert door.asked == ["large", "ana", "ben"]
    assert tally.sent == 2
    assert next(iter(outbox.kept.values())).next_at == START + dt.timedelta(hours=1)


def test_more_than_a_batch_is_claimed_batch_by_batch() -> None:
    outbox, door = outbox_of(*(f"r{n}" for n in range(2 * BATCH + 1))), FakeDoor()

    tally = dispatch_due(outbox, door, "me", at(), per_minute=7)

    assert tally.sent == 2 * BATCH + 1
    assert outbox.per_minute == [7] * 4


def test_a_claim_that_ran_out_is_sent_again_and_counted() -> None:
    outbox, door = outbox_of("ana"), FakeDoor()
    outbox.claim("killed", 1, START, START + LEASE, 0)

    early = dispatch_due(outbox, door, "me", at(START + LEASE - dt.timedelta(seconds=1)))
    assert (early.tried, door.asked) == (0, [])

    late = dispatch_due(outbox, door, "me", at(START + LEASE))
    assert (late.sent, late.uncertain) == (1, 1)


def test_stopping_ends_after_the_message_under_way_and_gives_the_rest_back() -> None:
    outbox, door = outbox_of("ana", "ben", "cleo"), FakeDoor()

    tally = dispatch_due(outbox, door, "me", at(), is_stopped=lambda: len(door.asked) >= 1)

    assert (door.asked, tally.sent) == (["ana"], 1)
    assert states(outbox) == ["sent", "queued", "queued"]
    assert [one.attempts for one in outbox.kept.values()] == [1, 0, 0]


def test_no_message_is_begun_when_the_lease_may_end_before_its_answer() -> None:
    """A server may take ten minutes to answer (RFC 5321 4.5.3.2.6): another process would send
    what is claimed here a second time.
    """
    outbox, door = outbox_of("ana", "ben"), FakeDoor()
    clock = iter([START, START, START, START + LEASE * 0.2, START + LEASE * 0.31, START + LEASE])

    dispatch_due(
        outbox,
        door,
        "me",
        lambda: next(clock, START + LEASE),
        is_stopped=lambda: len(outbox.per_minute) > 1,
    )

    assert door.asked == ["ana"]
    assert states(outbox) == ["sent", "queued"]


def test_a_message_is_given_up_when_it_has_gone_stale() -> None:
    outbox, door = FakeOutbox([a_mail("busy")], stale_after_days=0), FakeDoor()

    tally = dispatch_due(outbox, door, "me", at())

    (one,) = outbox.kept.values()
    assert (tally.dead, one.state) == (1, State.DEAD)
    assert one.settled[0].answer == "given up: RCPT: 4.7.1 try later"
