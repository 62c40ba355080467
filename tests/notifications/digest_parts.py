"""What a digest says, part by part, for the tests of digests."""

from __future__ import annotations

import re

from notifications.messages import Message, Skipped
from notifications.rendering import render


def text(made: Message | Skipped) -> str:
    assert isinstance(made, Message)
    return render(made).text


def subject(made: Message | Skipped) -> str:
    assert isinstance(made, Message)
    return render(made).subject


def sections(made: Message | Skipped) -> list[str]:
    """The headings of the text part, in order."""
    return re.findall(r"^[A-Z][A-Z ,]+(?= \(\d+\)$)", text(made), re.MULTILINE)
