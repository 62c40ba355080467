"""Does a form come from a page of ours? A token that belongs to the browser's cookie says so.

What stands in the page is masked anew each time, so that compressing it betrays nothing (the
attack BREACH); what it hides is the same as long as the cookie is.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from typing import Final

__all__ = ["form_token", "is_form_token"]

_BYTES: Final = 16


def form_token(cookie: str) -> str:
    """A token for the forms of one page; cookie: the value the browser sends."""
    mask = secrets.token_bytes(_BYTES)
    hidden = bytes(a ^ b for a, b in zip(mask, _secret(cookie), strict=True))
    return base64.urlsafe_b64encode(mask + hidden).decode().rstrip("=")


def is_form_token(cookie: str, token: str) -> bool:
    """Say whether a token belongs to the cookie."""
    try:
        raw = base64.urlsafe_b64decode(token + "=" * (-len(token) % 4))
    except ValueError:
        return False
    if not cookie or len(raw) != 2 * _BYTES:
        return False
    told = bytes(a ^ b for a, b in zip(raw[:_BYTES], raw[_BYTES:], strict=True))
    return hmac.compare_digest(told, _secret(cookie))


def _secret(cookie: str) -> bytes:
    return hmac.digest(cookie.encode(), b"dueward form", hashlib.sha256)[:_BYTES]
