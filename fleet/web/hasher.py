"""How are passwords and PINs kept? As argon2id, with the least settings OWASP's cheat sheet names.

19 MiB, two passes, one lane: 15 ms of a processor. More would let a few sign-ins at once stop all
other pages.
"""

from __future__ import annotations

from argon2 import PasswordHasher, Type
from argon2.exceptions import InvalidHashError, VerificationError

__all__ = ["ArgonHasher"]


class ArgonHasher:
    """The port `Hasher`."""

    def __init__(self) -> None:
        self._argon = PasswordHasher(time_cost=2, memory_cost=19_456, parallelism=1, type=Type.ID)
        self._nobody = self._argon.hash("nobody's")

    def hashed(self, secret: str) -> str:
        """What is kept; differs each time."""
        return self._argon.hash(secret)

    def fits(self, kept: str, secret: str) -> bool:
        """Say whether the secret is the one; takes as long for '' as for a real hash."""
        try:
            self._argon.verify(kept or self._nobody, secret)
        except (VerificationError, InvalidHashError):
            return False
        return bool(kept)

    def is_dated(self, kept: str) -> bool:
        """Say whether it was made with other settings than those of today."""
        return self._argon.check_needs_rehash(kept)
