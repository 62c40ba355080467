"""A real mail server takes the digests and keeps them byte for byte."""

from __future__ import annotations

import pytest

from fleet.services.digest import digests
from notifications.dispatch import dispatch
from notifications.messages import Mail
from notifications.mime import mail
from notifications.settings import Settings
from notifications.smtp import Door, Outcome, server
from tests.fleet.services.digest_scenario import BOOK, ROOT, a_state
from tests.mail_server import MailServer, as_kept, without_trace
from tests.notifications.facts_made import a_rendered
from tests.notifications.mail_rules import check_message

pytestmark = pytest.mark.mail_server


def sent(server_: MailServer, mails: list[Mail]) -> list[bytes]:
    settings = Settings(smtp=f"smtp://127.0.0.1:{server_.port}")
    with Door(server(settings)) as door:
        report = dispatch(mails, door)
    assert report.fault is None
    assert report.count(Outcome.SENT) == len(mails)
    return server_.wait_for(len(mails))


def test_every_digest_arrives_byte_for_byte(mail_server: MailServer) -> None:
    state = a_state()
    run = digests(state.register, BOOK, state.rows, state.gaps, state.on, Settings(), ROOT)
    mails = [mail(message, Settings()) for message in run.messages]

    kept = sent(mail_server, mails)

    assert sorted(map(without_trace, kept)) == sorted(as_kept(one.content) for one in mails)
    for one in kept:
        check_message(without_trace(one).replace(b"\n", b"\r\n"))


def test_more_messages_than_one_connection_takes_all_arrive(mail_server: MailServer) -> None:
    """OpenSMTPD refuses the 101st message of a connection with 452 (measured)."""
    mails = [mail(a_rendered(email=f"r{n}@lab.example"), Settings()) for n in range(120)]

    kept = sent(mail_server, mails)

    assert sorted(map(without_trace, kept)) == sorted(as_kept(one.content) for one in mails)
