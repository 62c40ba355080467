"""Which bytes is a message? One e-mail, text first and HTML second, with its envelope.

RFC 5322 (form, Date, Message-ID), RFC 2046 5.1.4 (alternatives), RFC 2047 and 2045 (76 columns),
RFC 3834 (automatic mail), RFC 2919 (List-Id). The same message always gives the same bytes.
"""

from __future__ import annotations

from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from pathlib import PurePath
from typing import Final

from notifications.addresses import normal_address, one_line
from notifications.errors import BadAddress, BadSettings
from notifications.messages import Attached, Kind, Mail, Rendered
from notifications.outbox import outbox_key
from notifications.settings import Settings

__all__ = ["mail", "message_id"]

_POLICY: Final = SMTP.clone(max_line_length=76)
"""The library's own 78 is two over what RFC 2047 2 and RFC 2045 6.7 allow."""
_NAME: Final = "Dueward"
_NAME_LENGTH: Final = 60
"""A name without spaces cannot be folded, and a line should have 78 characters at most."""
_FILE_NAME_LENGTH, _SUFFIX_LENGTH = 100, 10
_LIST_NAMES: Final = {
    Kind.SITE_LEAD: "Dueward site lead digest",
    Kind.CONSULTANT: "Dueward consultant digest",
    Kind.MANAGER: "Dueward program digest",
    Kind.GAPS: "Dueward monthly charts",
    Kind.NEW_CHARTS: "Dueward new charts",
    Kind.NEWS: "Dueward news",
    Kind.VISIT: "Dueward visits",
    Kind.NEW_PASSWORD: "Dueward passwords",
}


def mail(message: Rendered, settings: Settings) -> Mail:
    """Put a message into bytes; BadAddress for its reader, BadSettings for the sender."""
    sender, reader = _sender(settings), normal_address(message.email)
    domain = sender.partition("@")[2]
    name = message_id(message, domain)
    whole = EmailMessage(policy=_POLICY)
    whole["From"] = Address(_NAME, addr_spec=sender)
    whole["To"] = Address(one_line(message.name)[:_NAME_LENGTH], addr_spec=reader)
    whole["Reply-To"] = Address(_NAME, addr_spec=sender)
    whole["Subject"] = one_line(message.subject)
    whole["Date"] = format_datetime(message.dated_at)
    whole["Message-ID"] = name
    whole["Auto-Submitted"] = "auto-generated"
    whole["X-Auto-Response-Suppress"] = "All"
    list_name = message.kind.value.replace("_", "-")
    whole["List-Id"] = f'"{_LIST_NAMES[message.kind]}" <{list_name}.dueward.{domain}>'
    whole.set_content(message.text, cte="quoted-printable")
    whole.add_alternative(message.html, subtype="html", cte="quoted-printable")
    for attached in message.attached:
        _attach(whole, attached)
    for number, part in enumerate(part for part in whole.walk() if part.is_multipart()):
        # RFC 2046 5.1.1: a line that begins with a boundary is one, so none may begin another.
        part.set_boundary(f"=_{number}_{name[1:33]}")
    return Mail(name, sender, reader, whole.as_bytes())


def _attach(whole: EmailMessage, attached: Attached) -> None:
    """Add a file; a calendar stands among the alternatives too, where programs look for it.

    RFC 6047 2.4: both say METHOD and charset. In base 64, for relays that take no 8 bits.
    """
    main, _, sub = attached.media_type.partition("/")
    words = {"charset": "utf-8", "method": attached.method} if attached.method else None
    name = _file_name(attached.name)
    if attached.method:
        body = next(part for part in whole.walk() if part.get_content_subtype() == "alternative")
        content = attached.content.decode()
        body.add_alternative(content, subtype=sub, cte="base64", params={"method": attached.method})
    whole.add_attachment(attached.content, maintype=main, subtype=sub, filename=name, params=words)


def _file_name(name: str) -> str:
    """A name that leads into no other folder and that every system takes (RFC 2183 2.3)."""
    safe = "".join("_" if sign in '<>:"/\\|?*' else sign for sign in one_line(name)).lstrip(". ")
    path = PurePath(safe or "file")
    return path.stem[:_FILE_NAME_LENGTH] + path.suffix[:_SUFFIX_LENGTH]


def message_id(message: Rendered, domain: str) -> str:
    """The name of a message, from reader, kind and period and never from time, so that a second
    copy of it carries the same one.
    """
    return f"<{outbox_key(message.email, message.kind, message.period)}@{domain}>"


def _sender(settings: Settings) -> str:
    try:
        return normal_address(settings.mail_from)
    except BadAddress as error:
        raise BadSettings(
            "DUEWARD_MAIL_FROM", str(error), "write one address, as digest@lab.example"
        ) from error
