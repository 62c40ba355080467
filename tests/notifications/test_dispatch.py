"""Each message has its answer, and a fault of ours loses none."""

from __future__ import annotations

from notifications.dispatch import dispatch
from notifications.errors import BadAddress, ServerFault
from notifications.messages import Mail
from notifications.smtp import Answer, Outcome


class FakeDoor:
    """Answers by the word before the @ of the reader's address."""

    def __init__(self) -> None:
        self.asked: list[str] = []

    def send(self, mail: Mail) -> Answer:
        name = mail.envelope_to.partition("@")[0]
        self.asked.append(name)
        if name == "bent":
            raise BadAddress(mail.envelope_to, "write it as x")
        if name == "fault":
            raise ServerFault("localhost:25", "MAIL", 530, "no", "mend it")
        outcome = {"busy": Outcome.DEFERRED, "gone": Outcome.REFUSED}.get(name, Outcome.SENT)
        return Answer(outcome, 250, name)


def a_mail(name: str) -> Mail:
    return Mail(f"<{name}@state.example>", "digest@state.example", f"{name}@lab.example", b"")


def test_every_message_is_reported_in_its_place() -> None:
    mails = [a_mail(name) for name in ("ana", "busy", "gone", "bent", "ben")]

    report = dispatch(mails, FakeDoor())

    assert [delivery.mail for delivery in report.deliveries] == mails
    assert {outcome: report.count(outcome) for outcome in Outcome} == {
        Outcome.SENT: 2,
        Outcome.DEFERRED: 1,
        Outcome.REFUSED: 2,
    }
    assert report.fault is None


def test_after_a_fault_of_ours_the_rest_is_deferred_untried() -> None:
    door = FakeDoor()

    report = dispatch([a_mail(name) for name in ("ana", "fault", "ben", "cleo")], door)

    assert door.asked == ["ana", "fault"]
    assert [delivery.answer.text for delivery in report.deliveries] == [
        "ana",
        "mail server localhost:25, MAIL: 530 no; mend it",
        "not tried, sending had stopped",
        "not tried, sending had stopped",
    ]
    assert (report.count(Outcome.SENT), report.count(Outcome.DEFERRED)) == (1, 3)
    assert isinstance(report.fault, ServerFault)
