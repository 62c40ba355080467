"""Is this the code that a second factor shows now (RFC 6238, SHA-1, six digits, 30 seconds)?"""

from __future__ import annotations

import datetime as dt
import hmac
import re
from typing import Final

__all__ = ["STEP_SECONDS", "address_of_key", "is_key", "new_key", "step_of"]

STEP_SECONDS: Final = 30
_KEY: Final = re.compile(r"[A-Z2-7]{32}")
"""160 bits in base 32 (RFC 4648, 6)."""
_DRIFT: Final = 1
"""Steps by which the phone's clock may differ (RFC 6238, 5.2: one at most)."""


def new_key() -> str:
    """A key of 160 bits of chance, in base 32 (RFC 4226, 4: 160 bits are recommended)."""
    from pyotp import random_base32

    return random_base32()


def is_key(text: str) -> bool:
    """Say whether a text is such a key."""
    return _KEY.fullmatch(text) is not None


def address_of_key(key: str, email: str) -> str:
    """The address an authenticator reads, as text or as a two-dimensional code."""
    from pyotp import TOTP

    return TOTP(key).provisioning_uri(name=email, issuer_name="Dueward")


def step_of(key: str, code: str, now: dt.datetime) -> int | None:
    """The time step whose code this is; None for none of the present and its neighbours."""
    from pyotp import TOTP

    given = "".join(code.split())
    if not is_key(key) or not (given.isascii() and given.isdigit()):
        return None
    present = int(now.timestamp()) // STEP_SECONDS
    for step in range(present - _DRIFT, present + _DRIFT + 1):
        if hmac.compare_digest(TOTP(key).at(step * STEP_SECONDS), given):
            return step
    return None
