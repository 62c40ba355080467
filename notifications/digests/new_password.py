"""How does somebody who has forgotten a password set a new one? By a link, for an hour."""

from __future__ import annotations

from notifications.addresses import one_line
from notifications.facts import Reader
from notifications.languages import tr
from notifications.messages import Kind, Message

__all__ = ["new_password"]


def new_password(reader: Reader, period: str, link: str) -> Message:
    """The link that was asked for at the sign-in page; link: its whole address."""
    context = {
        "title": tr("Set a new password"),
        "first": tr("Open this link and set a new password. It fits once, for an hour."),
        "link": link,
        "unasked": tr(
            "If it was not you who asked, do nothing: your password stays as it is, and nobody"
            " comes in without this link."
        ),
        "reasons": (
            tr("You get this because you have an account and a new password was asked for it."),
            tr("It comes only when somebody asks, three times an hour at most."),
        ),
        "all_clear": False,
    }
    return Message(
        kind=Kind.NEW_PASSWORD,
        email=reader.email,
        name=one_line(reader.name),
        period=period,
        dated_at=reader.dated_at,
        is_all_clear=False,
        context=context,
        language=reader.language,
    )
