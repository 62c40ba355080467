"""A webhook over a real TLS connection: what arrives, what each answer means, what is not done."""

from __future__ import annotations

import datetime as dt
import ssl
import time
from collections.abc import Iterator
from itertools import count
from typing import Any

import pytest

from notifications import calls
from notifications.calls import CallDoor
from notifications.errors import NotNow
from notifications.messages import Call
from notifications.outbox import Answer, Outcome
from notifications.web_addresses import Guard
from tests.https_receiver import HOST, Receiver, answer, guard_of, is_signed
from tests.tls_certificates import Certificates, make_certificates

NOW = dt.datetime(2026, 11, 30, 13, 0, tzinfo=dt.UTC)
SECRETS = ("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "whsec_C2FVsBQIhrscChlQIMV+b5sSYspob7oD")
BODY = '{"type":"test","note":"Ångström"}'.encode()
PUBLIC, SECOND = "93.184.215.14", "10.0.0.5"


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Certificates:
    hosts = {"right": HOST, "wrong": "other.example"}
    return make_certificates(tmp_path_factory.mktemp("certificates"), hosts)


@pytest.fixture
def receiver(known: Certificates) -> Iterator[Receiver]:
    with Receiver(known.context("right")) as opened:
        yield opened


def a_call(url: str, webhook: str = "W1") -> Call:
    return Call(webhook=webhook, url=url, message_id="msg_0a1b", body=BODY, secrets=SECRETS)


def a_door(known: Certificates, guard: Guard | None = None) -> CallDoor:
    return CallDoor(lambda: NOW, time.monotonic, guard or guard_of(known.file("right"))[0])


def sent(receiver: Receiver, known: Certificates) -> Answer:
    return a_door(known).send(a_call(receiver.url))


def test_a_webhook_arrives_whole_and_signed_with_every_secret(
    receiver: Receiver, known: Certificates
) -> None:
    assert sent(receiver, known) == Answer(Outcome.SENT, 204, "taken")
    (one,) = receiver.asked
    assert one.line == "POST /dueward?of=adams HTTP/1.1"
    assert one.body == BODY
    assert one.headers["host"] == f"{HOST}:{receiver.port}"
    assert one.headers["content-type"] == "application/json"
    assert one.headers["webhook-id"] == "msg_0a1b"
    assert one.headers["webhook-timestamp"] == str(int(NOW.timestamp()))
    assert all(is_signed(one, secret) for secret in SECRETS)
    assert not is_signed(one, "whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA")


@pytest.mark.parametrize(
    ("status", "wanted"),
    [
        (200, Answer(Outcome.SENT, 200, "taken")),
        (299, Answer(Outcome.SENT, 299, "taken")),
        (400, Answer(Outcome.REFUSED, 400, "refused")),
        (401, Answer(Outcome.REFUSED, 401, "refused")),
        (404, Answer(Outcome.REFUSED, 404, "refused")),
        (408, Answer(Outcome.DEFERRED, 408, "not now")),
        (410, Answer(Outcome.REFUSED, 410, "gone: it wants no more")),
        (425, Answer(Outcome.DEFERRED, 425, "not now")),
        (429, Answer(Outcome.DEFERRED, 429, "not now")),
        (500, Answer(Outcome.DEFERRED, 500, "not now")),
        (503, Answer(Outcome.DEFERRED, 503, "not now")),
        (599, Answer(Outcome.DEFERRED, 599, "not now")),
    ],
)
def test_what_a_status_means(
    receiver: Receiver, known: Certificates, status: int, wanted: Answer
) -> None:
    receiver.says.append(answer(status, body=b"<secret words of the receiver>"))
    assert sent(receiver, known) == wanted


@pytest.mark.parametrize(
    ("header", "wait"),
    [
        ("Retry-After: 120", dt.timedelta(seconds=120)),
        ("Retry-After: Mon, 30 Nov 2026 13:10:00 GMT", dt.timedelta(minutes=10)),
        ("Retry-After: Mon, 30 Nov 2026 12:00:00 GMT", dt.timedelta()),
        ("Retry-After: 99999999999999999999", dt.timedelta(seconds=10**8)),
        ("Retry-After: -5", None),
        ("Retry-After: soon", None),
        ("X-Other: 5", None),
    ],
)
def test_a_wait_that_is_asked_for_is_told(
    receiver: Receiver, known: Certificates, header: str, wait: dt.timedelta | None
) -> None:
    receiver.says.append(answer(429, header))
    assert sent(receiver, known).wait == wait


@pytest.mark.parametrize("status", [301, 302, 303, 307, 308])
def test_a_redirect_is_not_followed(receiver: Receiver, known: Certificates, status: int) -> None:
    """Also not to this very receiver, which would answer."""
    guard, names = guard_of(known.file("right"))
    receiver.says.append(answer(status, f"Location: {receiver.url}"))
    done = a_door(known, guard).send(a_call(receiver.url))
    words = "it leads elsewhere; subscribe with the address it leads to"
    assert done == Answer(Outcome.REFUSED, status, words)
    assert (len(receiver.asked), names) == (1, [HOST])


def test_a_redirect_to_this_machine_is_not_followed(
    receiver: Receiver, known: Certificates
) -> None:
    with Receiver(known.context("right")) as inner:
        location = f"Location: https://127.0.0.1:{inner.port}/"
        receiver.says.append(answer(307, location))
        assert sent(receiver, known).outcome is Outcome.REFUSED
        assert inner.asked == []


def test_this_machine_is_refused_without_the_seam(receiver: Receiver, known: Certificates) -> None:
    """What production does: the guard has no allowance, whatever is set."""
    guard, _ = guard_of(known.file("right"))
    plain = Guard(resolve=guard.resolve, trusts=guard.trusts)
    done = a_door(known, plain).send(a_call(receiver.url))
    assert done == Answer(
        Outcome.DEFERRED,
        None,
        f"{HOST} leads to 127.0.0.1, an address that is this machine itself;"
        " give one that the public internet reaches",
    )
    assert receiver.asked == []


def test_a_name_that_leads_elsewhere_a_moment_later_is_looked_up_once(
    receiver: Receiver, known: Certificates
) -> None:
    """DNS rebinding: what was looked at is what is connected to."""
    guard, names = guard_of(known.file("right"), ["127.0.0.1"], ["127.0.0.2"], allows="127.0.0.1")
    assert a_door(known, guard).send(a_call(receiver.url)).outcome is Outcome.SENT
    assert names == [HOST]
    again = a_door(known, guard).send(a_call(receiver.url))
    assert "leads to 127.0.0.2, an address that is this machine itself" in again.text
    assert len(receiver.asked) == 1


def test_one_private_machine_among_public_ones_is_enough_to_refuse(known: Certificates) -> None:
    guard, _ = guard_of(known.file("right"), [PUBLIC, SECOND])
    done = a_door(known, guard).send(a_call(f"https://{HOST}/"))
    assert done.text.startswith(f"{HOST} leads to {SECOND}, an address that is private;")


def test_a_machine_that_does_not_listen_gives_way_to_the_next(
    receiver: Receiver, known: Certificates
) -> None:
    guard, _ = guard_of(known.file("right"), ["127.0.0.9", "127.0.0.1"])
    assert a_door(known, guard).send(a_call(receiver.url)).outcome is Outcome.SENT


def test_nobody_who_listens_is_tried_again(known: Certificates) -> None:
    with Receiver(known.context("right")) as gone:
        url = gone.url
    done = a_door(known).send(a_call(url))
    assert done == Answer(Outcome.DEFERRED, None, "no connection: Connection refused")


def test_a_certificate_for_another_name_is_not_trusted(known: Certificates) -> None:
    guard, _ = guard_of(known.file("wrong"))
    with Receiver(known.context("wrong")) as other:
        done = a_door(known, guard).send(a_call(other.url))
        assert other.asked == []
    assert done.outcome is Outcome.DEFERRED
    assert done.text == (
        "its certificate cannot be trusted (Hostname mismatch, certificate is not valid for"
        f" '{HOST}')"
    )


def test_a_certificate_that_nobody_vouches_for_is_not_trusted(
    receiver: Receiver, known: Certificates
) -> None:
    done = a_door(known, guard_of(None)[0]).send(a_call(receiver.url))
    assert done.text == "its certificate cannot be trusted (self-signed certificate)"
    assert receiver.asked == []


def test_old_tls_is_not_spoken(known: Certificates) -> None:
    context = known.context("right")
    with pytest.warns(DeprecationWarning, match="TLSv1_1 is deprecated"):
        context.maximum_version = ssl.TLSVersion.TLSv1_1
    with Receiver(context) as old:
        done = a_door(known).send(a_call(old.url))
        assert old.asked == []
    assert done.outcome is Outcome.DEFERRED
    assert done.text.startswith("no TLS 1.2 or later could be agreed on (")


def silence(seconds: float, first: bytes = b"", every: bytes = b"") -> object:
    """Says something, then nothing or a little now and then."""

    def say(wire: ssl.SSLSocket) -> None:
        wire.sendall(first)
        ends_at = time.monotonic() + seconds
        while time.monotonic() < ends_at:
            time.sleep(0.05)
            if every:
                wire.sendall(every)

    return say


@pytest.mark.parametrize(
    ("first", "every"),
    [(b"", b""), (b"HTTP/1.1 200 OK\r\nX-Slow: ", b"a")],
    ids=["says nothing", "says a letter now and then"],
)
def test_the_whole_exchange_has_an_end(
    receiver: Receiver,
    known: Certificates,
    monkeypatch: pytest.MonkeyPatch,
    first: bytes,
    every: bytes,
) -> None:
    monkeypatch.setattr(calls, "EXCHANGE_SECONDS", 0.6)
    receiver.says.append(silence(3, first, every))  # type: ignore[arg-type]
    began_at = time.monotonic()
    done = sent(receiver, known)
    assert time.monotonic() - began_at < 1.5
    words = "no answer, it may have arrived: nothing came in time"
    assert done == Answer(Outcome.DEFERRED, None, words)


def test_a_body_that_does_not_end_is_not_waited_for(
    receiver: Receiver, known: Certificates, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The status is known already; the rest is nobody's."""
    monkeypatch.setattr(calls, "EXCHANGE_SECONDS", 0.6)
    head = b"HTTP/1.1 200 OK\r\nContent-Length: 1000000\r\n\r\n"
    receiver.says.append(silence(3, head, b"a"))  # type: ignore[arg-type]
    assert sent(receiver, known) == Answer(Outcome.SENT, 200, "taken")


def test_of_a_huge_answer_only_the_beginning_is_taken(
    receiver: Receiver, known: Certificates, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = []

    def pours(wire: ssl.SSLSocket) -> None:
        wire.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 200000000\r\n\r\n")
        for number in count():
            left.append(number)
            wire.sendall(b"x" * 65_536)

    receiver.says.append(pours)
    taken, readinto = list[int](), calls._Reading.readinto

    def counted(self: Any, into: Any) -> int:
        taken.append(readinto(self, into))
        return taken[-1]

    monkeypatch.setattr(calls._Reading, "readinto", counted)
    assert sent(receiver, known) == Answer(Outcome.SENT, 200, "taken")
    assert sum(taken) <= 2 * 1024, "its head, and the beginning of its body"
    time.sleep(0.2)
    assert len(left) < 200, "what nobody takes is not sent"


def test_a_head_without_end_is_cut_off(receiver: Receiver, known: Certificates) -> None:
    head = b"HTTP/1.1 200 OK\r\n" + b"".join(b"X-%d: %s\r\n" % (n, b"a" * 900) for n in range(50))
    receiver.says.append(lambda wire: wire.sendall(head))
    done = sent(receiver, known)
    words = "no answer, it may have arrived: the answer is too long"
    assert done == Answer(Outcome.DEFERRED, None, words)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (b"", "the connection was closed"),
        (b"220 mail.example ESMTP\r\n", "what came was no answer in HTTP"),
    ],
)
def test_what_is_no_answer_may_have_arrived(
    receiver: Receiver, known: Certificates, said: bytes, words: str
) -> None:
    receiver.says.append(lambda wire: wire.sendall(said))
    done = sent(receiver, known)
    assert done == Answer(Outcome.DEFERRED, None, f"no answer, it may have arrived: {words}")


def test_a_receiver_that_did_not_answer_is_left_alone_for_the_round(
    receiver: Receiver, known: Certificates
) -> None:
    door = a_door(known)
    receiver.says.append(answer(503))
    assert door.send(a_call(receiver.url)).outcome is Outcome.DEFERRED
    with pytest.raises(NotNow):
        door.send(a_call(receiver.url))
    assert door.send(a_call(receiver.url, "W2")).outcome is Outcome.SENT
    assert len(receiver.asked) == 2


def test_an_address_that_no_later_try_can_mend_is_given_up(known: Certificates) -> None:
    done = a_door(known).send(a_call("http://receiver.example/"))
    assert done.outcome is Outcome.REFUSED
    assert done.text.startswith("only https is sent to")


def test_a_secret_is_in_no_message_about_a_call() -> None:
    assert "whsec" not in repr(a_call("https://receiver.example/"))
