"""May this be a password (OWASP ASVS 5.0.0, 6.2; NIST SP 800-63B: 15 characters if used alone)?

Any characters, nothing is cut off, none must be of a certain sort, none expires.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from fleet.domain.texts import Wrong
from fleet.services.access.hours import LEAST_PASSWORD, MOST_PASSWORD

__all__ = ["password_wrong"]

_SAFE_ENOUGH: Final = 3
"""Of 4, as the library zxcvbn counts: 10**8 guesses or more."""
_READ: Final = 72
"""Characters that are looked at for being guessable; the library grows slow beyond."""


def password_wrong(password: str, about: Iterable[str]) -> Wrong | None:
    """What is wrong with a password, and how to mend it; None where it may be used.

    about: words that somebody would try first: the address, the site, the program.
    """
    if len(password) < LEAST_PASSWORD:
        problem = f"the password has {len(password)} characters"
        return Wrong(problem, f"take {LEAST_PASSWORD} or more; four or five words make a good one")
    if len(password) > MOST_PASSWORD:
        problem = f"the password has more than {MOST_PASSWORD} characters"
        return Wrong(problem, f"take {MOST_PASSWORD} at most")
    from zxcvbn import zxcvbn

    found = zxcvbn(password[:_READ], user_inputs=[word for word in about if word])
    if found["score"] >= _SAFE_ENOUGH:
        return None
    why = found["feedback"]["warning"] or "it is one of those that are tried first"
    problem = f"the password is easy to guess: {why[0].lower()}{why[1:].rstrip('.')}"
    return Wrong(problem, "take four or five words that have nothing to do with each other")
