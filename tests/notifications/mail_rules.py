"""What the mail standards ask of any message, as checks on its bytes; each names its source."""

from __future__ import annotations

import email
import email.policy
import re
from email.message import EmailMessage


def check_message(content: bytes) -> EmailMessage:
    """Hold the bytes of a message against the standards; the parsed message."""
    _check_lines(content)
    _check_encoded_words(content)
    parsed = email.message_from_bytes(content, policy=email.policy.default)
    assert isinstance(parsed, EmailMessage)
    assert not parsed.defects
    # RFC 5322 3.6: Date and From exactly once, the others at most once; ours all exactly once.
    for name in ("Date", "From", "To", "Subject", "Message-ID", "Reply-To", "MIME-Version"):
        assert len(parsed.get_all(name, [])) == 1, name
    assert "Bcc" not in parsed
    # RFC 5322 3.6.4: msg-id = "<" id-left "@" id-right ">"
    assert re.fullmatch(r"<[^<>@\s]+@[^<>@\s]+>", parsed["Message-ID"])
    # RFC 3834 5: automatic mail says so, so that responders stay silent.
    assert parsed.get_all("Auto-Submitted") == ["auto-generated"]
    _check_parts(parsed)
    return parsed


def _check_parts(parsed: EmailMessage) -> None:
    body = parsed
    if parsed.get_content_type() == "multipart/mixed":
        # RFC 2046 5.1.3: the parts in their order, the body before what goes with it.
        first, *files = parsed.iter_parts()
        assert isinstance(first, EmailMessage)
        body = first
        assert files
        for file in files:
            assert file.get_content_disposition() == "attachment"
            assert file.get_filename()
    # RFC 2046 5.1.4: increasing order of preference, the plainest first.
    assert body.get_content_type() == "multipart/alternative"
    kinds = [part.get_content_type() for part in body.iter_parts()]
    assert kinds[:2] == ["text/plain", "text/html"]
    # RFC 6047 2.4: a calendar among them says its METHOD and its charset.
    assert kinds[2:] in ([], ["text/calendar"])
    for part in list(body.iter_parts())[2:]:
        assert part.get_param("method") in ("PUBLISH", "CANCEL")
        assert part.get_param("charset") == "utf-8"


def _check_lines(content: bytes) -> None:
    # RFC 5322 2.3: CR and LF only together.
    assert content.count(b"\r\n") == content.count(b"\n") == content.count(b"\r")
    assert b"\0" not in content
    for line in content.split(b"\r\n"):
        # RFC 5322 2.1.1: at most 998 characters, and should be at most 78; RFC 2045 6.7 (5):
        # quoted-printable at most 76.
        assert len(line) <= 76, line
        line.decode("ascii")


def _check_encoded_words(content: bytes) -> None:
    # RFC 2047 2: an encoded word has at most 75 characters, a header line with one at most 76.
    header = content.split(b"\r\n\r\n", 1)[0].decode("ascii")
    for line in header.split("\r\n"):
        for word in re.findall(r"=\?[^?\s]+\?[bqBQ]\?[^?\s]*\?=", line):
            assert len(word) <= 75
            assert len(line) <= 76
