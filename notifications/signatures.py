"""How does a receiver know that a webhook is ours, whole and new? By a signature with a shared key.

Standard Webhooks 1.0.0 (www.standardwebhooks.com): HMAC-SHA256 over 'id.timestamp.body', in base 64
after 'v1,'. While a key is being replaced there are two signatures, with a space between.
"""

from __future__ import annotations

import base64
import binascii
import datetime as dt
import hashlib
import hmac
from collections.abc import Mapping, Sequence
from typing import Final

__all__ = ["SECRET_BYTES", "secret_text", "signed_headers"]

SECRET_BYTES: Final = 32
"""24 to 64, by the specification."""
_PREFIX: Final = "whsec_"


def secret_text(key: bytes) -> str:
    """A key as its receiver is given it; ValueError for one of another length than asked for."""
    if len(key) != SECRET_BYTES:
        raise ValueError(f"a key has {SECRET_BYTES} bytes")
    return _PREFIX + base64.b64encode(key).decode()


def signed_headers(
    message_id: str, at: dt.datetime, body: bytes, secrets: Sequence[str]
) -> Mapping[str, str]:
    """The three headers of one try, made at an instant, signed with each of the secrets."""
    seconds = str(int(at.timestamp()))
    told = b".".join((message_id.encode(), seconds.encode(), body))
    signatures = [f"v1,{_signature(told, secret)}" for secret in secrets]
    return {
        "webhook-id": message_id,
        "webhook-timestamp": seconds,
        "webhook-signature": " ".join(signatures),
    }


def _signature(told: bytes, secret: str) -> str:
    try:
        key = base64.b64decode(secret.removeprefix(_PREFIX), validate=True)
    except binascii.Error:
        raise ValueError("a secret is 'whsec_' and base 64") from None
    return base64.b64encode(hmac.new(key, told, hashlib.sha256).digest()).decode()
