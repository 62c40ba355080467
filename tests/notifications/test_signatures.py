"""Is a signature that of Standard Webhooks, and good as long as its secret is?"""

from __future__ import annotations

import base64
import datetime as dt

import pytest

from notifications.signatures import secret_text, signed_headers

# The worked example of the reference libraries of Standard Webhooks 1.0.0: github.com/
# standard-webhooks/standard-webhooks, libraries/go/webhook_test.go, TestWebhookSign.
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"  # noqa: S105 - published
MESSAGE = "msg_p5jXN8AQM9LWM0D4loKWxJek"
AT = dt.datetime.fromtimestamp(1614265330, dt.UTC)
BODY = b'{"test": 2432232314}'
SIGNATURE = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_the_published_example_comes_out() -> None:
    assert signed_headers(MESSAGE, AT, BODY, [SECRET]) == {
        "webhook-id": MESSAGE,
        "webhook-timestamp": "1614265330",
        "webhook-signature": SIGNATURE,
    }


def test_two_secrets_give_two_signatures_with_a_space_between() -> None:
    other = secret_text(bytes(range(32)))
    both = signed_headers(MESSAGE, AT, BODY, [other, SECRET])["webhook-signature"].split(" ")
    assert both[1] == SIGNATURE
    assert both[0] == signed_headers(MESSAGE, AT, BODY, [other])["webhook-signature"]


@pytest.mark.parametrize(
    ("message", "at", "body"),
    [
        ("msg_other", AT, BODY),
        (MESSAGE, AT + dt.timedelta(seconds=1), BODY),
        (MESSAGE, AT, BODY + b" "),
    ],
)
def test_another_name_instant_or_body_has_another_signature(
    message: str, at: dt.datetime, body: bytes
) -> None:
    assert signed_headers(message, at, body, [SECRET])["webhook-signature"] != SIGNATURE


def test_a_secret_is_written_as_its_receiver_s_library_reads_it() -> None:
    text = secret_text(bytes(range(32)))
    assert text.startswith("whsec_")
    assert base64.b64decode(text.removeprefix("whsec_")) == bytes(range(32))
    with pytest.raises(ValueError, match="a key has 32 bytes"):
        secret_text(b"short")
    with pytest.raises(ValueError, match="a secret is 'whsec_' and base 64"):
        signed_headers(MESSAGE, AT, BODY, ["whsec_not base 64"])
