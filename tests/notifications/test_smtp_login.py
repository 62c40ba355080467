"""Who may log in to the mail server, and which password files cannot be used."""

from __future__ import annotations

from pathlib import Path

import pytest

from notifications.errors import BadSettings, ServerFault
from notifications.mime import mail
from notifications.settings import Settings
from notifications.smtp import Answer, Door, Outcome, server
from tests.notifications.conftest import Script, ServerMaker
from tests.notifications.facts_made import a_rendered
from tests.tls_certificates import Certificates

MAIL = mail(a_rendered(), Settings(mail_from="digest@state.example"))
TAKEN = Answer(Outcome.SENT, 250, "OK")


def test_the_password_goes_only_through_tls_and_a_wrong_one_stops_sending(
    scripted: ServerMaker, certificates: Certificates, tmp_path: Path
) -> None:
    password_file = tmp_path / "password"
    script = Script()
    port = scripted(script, login_word="right horse", tls_context=certificates.context("right"))
    at = server(
        Settings(
            smtp=f"smtp://ana@localhost:{port}",
            smtp_password_file=password_file,
            smtp_ca_file=certificates.file("right"),
        )
    )

    password_file.write_text("right horse\n")
    with Door(at) as door:
        assert door.send(MAIL) == TAKEN
    password_file.write_text("wrong horse\n")
    with Door(at) as door, pytest.raises(ServerFault) as stopped:
        door.send(MAIL)

    assert stopped.value.code == 535
    assert "horse" not in str(stopped.value)
    assert len(script.taken) == 1


def test_a_password_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    missing = tmp_path / "nowhere"
    at = server(Settings(smtp="smtps://ana@localhost:1", smtp_password_file=missing))

    with Door(at) as door, pytest.raises(BadSettings) as refused:
        door.send(MAIL)

    assert str(refused.value) == (
        f"DUEWARD_SMTP_PASSWORD_FILE: '{missing}' cannot be read (No such file or directory);"
        " name a file that this program may read"
    )


def test_a_password_file_that_is_a_folder_is_named(tmp_path: Path) -> None:
    at = server(Settings(smtp="smtps://ana@localhost:1", smtp_password_file=tmp_path))

    with Door(at) as door, pytest.raises(BadSettings) as refused:
        door.send(MAIL)

    assert str(refused.value) == (
        f"DUEWARD_SMTP_PASSWORD_FILE: '{tmp_path}' cannot be read (Is a directory);"
        " name a file that this program may read"
    )


@pytest.mark.parametrize(
    "content",
    [b"caf\xe9\n", "café\n".encode(), b"\xef\xbb\xbfsecret\n", "secret\n".encode("utf-16")],
)
def test_a_password_that_no_login_can_carry_is_refused_before_it_is_sent(
    content: bytes, tmp_path: Path
) -> None:
    """Python's smtplib encodes user and password as ASCII in every login it knows."""
    password_file = tmp_path / "password"
    password_file.write_bytes(content)
    at = server(Settings(smtp="smtps://ana@localhost:1", smtp_password_file=password_file))

    with Door(at) as door, pytest.raises(BadSettings) as refused:
        door.send(MAIL)

    assert str(refused.value) == (
        f"DUEWARD_SMTP_PASSWORD_FILE: '{password_file}' holds more than ASCII characters;"
        " save it as plain text, with a password of ASCII characters"
    )


@pytest.mark.parametrize("user", ["andré", "andr%C3%A9", "andr%E9"])
def test_a_user_that_no_login_can_carry_is_refused(user: str) -> None:
    with pytest.raises(BadSettings) as refused:
        server(Settings(smtp=f"smtps://{user}@localhost", smtp_password_file=Path("password")))

    assert str(refused.value) == (
        "DUEWARD_SMTP: its user holds more than ASCII characters;"
        " log in with a user of ASCII characters"
    )
