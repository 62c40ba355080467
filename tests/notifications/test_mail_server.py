"""A real mail server takes what is planned and keeps it byte for byte."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest

from fleet.services.mailing.digest import digests
from fleet.storage import create, open_store
from notifications.dispatch import dispatch_due
from notifications.messages import Rendered
from notifications.mime import mail
from notifications.outbox import Planned, State
from notifications.settings import Settings
from notifications.smtp import Door, server
from tests.fleet.services.mailing.digest_scenario import BOOK, ROOT, a_state
from tests.fleet.storage.outbox_examples import NOW, a_planned, plan
from tests.mail_server import MailServer, as_kept, without_trace
from tests.notifications.facts_made import a_rendered
from tests.notifications.mail_rules import check_message

pytestmark = pytest.mark.mail_server


def planned(messages: Sequence[Rendered]) -> list[Planned]:
    return [
        a_planned(one.email, kind=one.kind, period=one.period, mail=mail(one, Settings()))
        for one in messages
    ]


def sent(server_: MailServer, messages: Sequence[Planned], folder: Path) -> list[bytes]:
    """Plan messages in an outbox, send what is due there, and read the mailbox."""
    url = f"sqlite:///{folder / 'fleet.db'}"
    create(url)
    settings = Settings(smtp=f"smtp://127.0.0.1:{server_.port}")
    with closing(open_store(url, clock=lambda: NOW)) as store:
        assert all(plan(store, *messages))
        with Door(server(settings)) as door:
            tally = dispatch_due(store.outbox, door, "me", lambda: NOW)
        assert (tally.sent, tally.fault) == (len(messages), "")
        with store.begin() as record:
            assert len(record.mail.rows((State.SENT,))) == len(messages)
    return server_.wait_for(len(messages))


def test_every_digest_arrives_byte_for_byte(mail_server: MailServer, tmp_path: Path) -> None:
    state = a_state()
    run = digests(state.register, BOOK, state.rows, state.gaps, state.on, Settings(), ROOT)
    messages = planned(run.messages)

    kept = sent(mail_server, messages, tmp_path)

    contents = [one.mail.content for one in messages if one.mail]
    assert sorted(map(without_trace, kept)) == sorted(map(as_kept, contents))
    for one in kept:
        check_message(without_trace(one).replace(b"\n", b"\r\n"))


def test_more_messages_than_one_connection_takes_all_arrive(
    mail_server: MailServer, tmp_path: Path
) -> None:
    """OpenSMTPD refuses the 101st message of a connection with 452 (measured)."""
    messages = planned([a_rendered(email=f"r{n}@lab.example") for n in range(120)])

    kept = sent(mail_server, messages, tmp_path)

    contents = [one.mail.content for one in messages if one.mail]
    assert sorted(map(without_trace, kept)) == sorted(map(as_kept, contents))
