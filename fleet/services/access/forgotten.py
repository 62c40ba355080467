"""How does somebody who has forgotten the password get a link for a new one, by mail?

An address without an account, or with one that is disabled, gets the same answer after the same
work: a mail is written for it too, and thrown away. So nobody learns here who has an account.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final

from fleet.domain.access import Account, Act
from fleet.services.access.caller import Caller
from fleet.services.access.hours import RESET_FOR, RESETS_AN_HOUR, RESETS_OF_ADDRESS
from fleet.services.access.visitor import account_name, people_of
from fleet.services.access_ports import Access
from fleet.services.links import Purpose, make_link
from fleet.services.ports import Record, Store
from notifications import digests
from notifications.addresses import normal_address
from notifications.errors import BadAddress
from notifications.facts import Reader
from notifications.languages import speaking
from notifications.messages import Kind, Mail, Rendered
from notifications.mime import mail
from notifications.outbox import Planned
from notifications.rendering import render, templates_of
from notifications.settings import Settings

__all__ = ["ask_new_password", "can_mail", "wait_before_asking"]

_HOUR: Final = dt.timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class _Written:
    """A mail that is laid out, and the token its link carries."""

    message: Rendered
    mail: Mail
    token: str


def can_mail(settings: Settings) -> bool:
    """Say whether a link can be mailed: it holds the pages' address, which must be known."""
    try:
        normal_address(settings.mail_from)
    except BadAddress:
        return False
    return bool(settings.base_url)


def wait_before_asking(access: Access, caller: Caller) -> int:
    """So many seconds a network address is to wait that asked too often; 0 for none."""
    asked = access.tries(_origin(caller), caller.now - _HOUR)
    return int(_HOUR.total_seconds()) if asked >= RESETS_OF_ADDRESS else 0


def ask_new_password(store: Store, caller: Caller, email: str, settings: Settings) -> None:
    """Put a mail with a link for an hour into the outbox, where there is an open account.

    Written outside of any unit of work that writes. More than RESETS_AN_HOUR to one address are
    not sent. Nothing is told of what was done, but in the access log.
    """
    email = account_name(email)
    with store.begin() as record:
        people = people_of(record.register(), email)
    name = next((person.name for person in people if person.name), "")
    language = next((person.language for person in people if person.language), "en")
    reader = Reader(email=email, name=name, dated_at=caller.now, language=language)
    written = _written(caller, reader, settings)
    with store.begin(write=True) as record:
        account, about = record.access.account(email), "no mail: no open account"
        asked = record.access.tries(_bucket(email), caller.now - _HOUR)
        record.access.add_try(_bucket(email), caller.draw(), caller.now)
        record.access.add_try(_origin(caller), caller.draw(), caller.now)
        if asked >= RESETS_AN_HOUR:
            about = "no mail: too many within an hour"
        elif written is not None and account is not None and account.disabled_at is None:
            _plan(record, caller, account, written)
            about = "a link goes by mail"
        caller.log(record.access, Act.ASKED_RESET, email, about)
        record.commit()


def _written(caller: Caller, reader: Reader, settings: Settings) -> _Written | None:
    """The mail to an address, whether it has an account or not; None where no mail can go."""
    token = caller.draw()
    link = f"{settings.base_url}/l/{token}"
    with speaking(reader.language):
        message = digests.new_password(reader, caller.now.isoformat(), link)
        laid_out = render(message, templates_of(settings.templates))
    try:
        return _Written(laid_out, mail(laid_out, settings), token)
    except BadAddress:
        return None


def _plan(record: Record, caller: Caller, account: Account, written: _Written) -> None:
    ends_at, message = caller.now + RESET_FOR, written.message
    make_link(record, written.token, account.email, Purpose.RESET, {}, caller.now, ends_at)
    planned = Planned(
        recipient=account.email,
        kind=Kind.NEW_PASSWORD,
        period=message.period,
        name=message.name,
        language=message.language,
        day=None,
        subject=message.subject,
        mail=written.mail,
        reason="",
        planned_at=caller.now,
        stale_at=ends_at,
    )
    record.mail.add([planned])


def _bucket(email: str) -> str:
    return f"new password {email}"


def _origin(caller: Caller) -> str:
    return f"new password from {caller.address}"
