"""The bytes of a message against RFC 5322, 2045, 2046, 2047, 2919 and 3834."""

from __future__ import annotations

import datetime as dt
from email.message import EmailMessage
from email.policy import SMTP

import pytest

from notifications.errors import BadAddress, BadSettings
from notifications.messages import Attached, Kind
from notifications.mime import mail
from notifications.settings import Settings
from tests.notifications.facts_made import a_rendered
from tests.notifications.mail_rules import check_message

SETTINGS = Settings(mail_from="digest@state.example")

HOSTILE = {
    "line break and a header": "Alder\r\nBcc: all@other.example",
    "lone carriage return": "Alder\rX: y",
    "lone line feed": "Alder\nX: y",
    "unicode line separator": "Alder\u2028X: y\x85z",
    "null and bell": "Al\0der\a",
    "quotes and commas": 'Quist, "Ana" (QA) <x@y.example>; \\',
    "emoji": "Alder 🔬👩\u200d🔬",
    "right to left override": "Alder \u202ekeerC\u202c",
    "300 characters": "Å" * 300,
    "300 letters without a break": "w" * 300,
    "an encoded word": "=?utf-8?q?Bcc=3A?= x",
    "nothing": "",
}


@pytest.mark.parametrize("kind", Kind)
def test_a_message_keeps_the_standards(kind: Kind) -> None:
    parsed = check_message(mail(a_rendered(kind=kind), SETTINGS).content)

    assert parsed["From"] == "Dueward <digest@state.example>"
    assert parsed["Reply-To"] == "Dueward <digest@state.example>"
    assert parsed["To"] == "Ana Quist <ana@lab.example>"
    assert parsed["Date"] == "Mon, 16 Nov 2026 07:00:00 -0600"
    # RFC 2919 3: a phrase and a domain-like identifier in angle brackets.
    assert parsed["List-Id"].endswith(f"<{kind.value.replace('_', '-')}.dueward.state.example>")


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_no_name_or_subject_breaks_a_message(text: str) -> None:
    subject = f"{text}: 1 overdue"
    message = a_rendered(name=text, subject=subject, text=text + "\n.\n..\nFrom x\n", html=text)

    parsed = check_message(mail(message, SETTINGS).content)

    assert parsed["To"].addresses[0].addr_spec == "ana@lab.example"
    assert len(parsed["To"].addresses) == 1
    assert set(parsed.keys()) == set(check_message(mail(a_rendered(), SETTINGS).content).keys())


def test_a_hostile_name_is_shown_as_one_line() -> None:
    parsed = check_message(
        mail(a_rendered(subject="Alder\r\nBcc: x\0: \u202e1 overdue"), SETTINGS).content
    )

    assert parsed["Subject"] == "Alder Bcc: x: 1 overdue"


CALENDAR = Attached(
    "visit.ics", "text/calendar", b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", "PUBLISH"
)


def test_no_boundary_is_the_beginning_of_another() -> None:
    """RFC 2046 5.1.1: a line is a delimiter if it begins with one, an exact match is not needed."""
    files = (CALENDAR, Attached("a.pdf", "application/pdf", b"%PDF-1.4"))
    parsed = check_message(mail(a_rendered(attached=files), SETTINGS).content)

    found = [part.get_boundary() or "" for part in parsed.walk() if part.is_multipart()]
    assert len(found) == 2
    assert [(a, b) for a in found for b in found if a is not b and a.startswith(b)] == []


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("../../x.pdf", "_.._x.pdf"),
        ("C:\\a/b.pdf", "C__a_b.pdf"),
        ('"q;"\r\nX: y.pdf', "_q;_ X_ y.pdf"),
        (".hidden", "hidden"),
        ("", "file"),
        ("Å" * 300 + ".pdf", "Å" * 100 + ".pdf"),
    ],
)
def test_a_file_s_name_leads_nowhere_and_breaks_no_header(name: str, safe: str) -> None:
    """RFC 2183 2.3: no path is taken over from a file name; RFC 2231 for its letters."""
    file = Attached(name, "application/pdf", b"%PDF-1.4")
    parsed = check_message(mail(a_rendered(attached=(file,)), SETTINGS).content)

    assert [part.get_filename() for part in parsed.iter_attachments()] == [safe]


def test_both_parts_are_read_back_as_they_were_written() -> None:
    text = "Zażółć — 'quotes' & <tags>\n.\n" + "long " * 400 + "\n"

    parsed = check_message(mail(a_rendered(text=text, html=f"<p>{text}</p>"), SETTINGS).content)

    plain, rich = parsed.iter_parts()
    assert isinstance(plain, EmailMessage)
    assert isinstance(rich, EmailMessage)
    assert plain.get_content().replace("\r\n", "\n") == text
    assert rich.get_content().replace("\r\n", "\n").rstrip("\n") == f"<p>{text}</p>"


def test_the_library_s_own_line_length_would_break_two_standards() -> None:
    """Why the policy is cut to 76: computed with the standard library, RFC 2047 2, RFC 2045 6.7."""
    message = EmailMessage(policy=SMTP)
    message["Subject"] = "Überfällig: Zażółć " * 12
    message.set_content("<p>" + "é" * 1500 + "</p>", subtype="html", cte="quoted-printable")

    assert max(len(line) for line in message.as_bytes().split(b"\r\n")) > 76


def test_the_message_id_names_reader_kind_and_period_and_never_the_time() -> None:
    def name(**changes: object) -> str:
        return mail(a_rendered(**changes), SETTINGS).message_id

    later = a_rendered().dated_at + dt.timedelta(days=3)
    assert name(dated_at=later, subject="other", text="other\n") == name()
    assert name().endswith("@state.example>")
    names = {name(), name(email="b@lab.example"), name(kind=Kind.MANAGER), name(period="2026-W48")}
    assert len(names) == 4


def test_the_same_message_gives_the_same_bytes() -> None:
    assert mail(a_rendered(), SETTINGS) == mail(a_rendered(), SETTINGS)


def test_the_envelope_is_the_normal_form_of_the_addresses() -> None:
    sent = mail(a_rendered(email="Ana@LAB.Example"), Settings(mail_from="digest@münster.example"))

    assert sent.envelope_to == "Ana@lab.example"
    assert sent.envelope_from == "digest@xn--mnster-3ya.example"


def test_a_reader_who_cannot_be_written_to_is_refused() -> None:
    with pytest.raises(BadAddress) as refused:
        mail(a_rendered(email="jürgen@lab.example"), SETTINGS)

    assert str(refused.value) == (
        "'jürgen@lab.example' is not an address that can be written to:"
        " the part before the @ has letters that many servers refuse"
    )


def test_a_sender_who_is_no_address_names_the_setting() -> None:
    with pytest.raises(BadSettings) as refused:
        mail(a_rendered(), Settings(mail_from="digest"))

    assert str(refused.value) == (
        "DUEWARD_MAIL_FROM: 'digest' is not an address that can be written to:"
        " An email address must have an @-sign.; write one address, as digest@lab.example"
    )
