"""Can this address be written to, and is this text safe on one line? (RFC 5321, RFC 5322)"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from email_validator import EmailNotValidError, validate_email

from notifications.errors import BadAddress

__all__ = ["normal_address", "one_line"]

_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co"})
_JOINERS = frozenset("\u200c\u200d")
"""Zero-width joiners are format characters too, but names and emoji are spelled with them."""


@lru_cache(maxsize=4096)
def normal_address(address: str) -> str:
    """The one form in which an address goes on the envelope: ASCII, its domain in IDNA.

    Nothing is asked of the network; hosts without a dot and the test domains of RFC 6761 are
    accepted, its other special names (.local, .invalid) are not. Raises BadAddress, also for a
    non-ASCII local part, which few relays take (RFC 6531).
    """
    try:
        found = validate_email(
            address, check_deliverability=False, globally_deliverable=False, test_environment=True
        )
    except EmailNotValidError as error:
        raise BadAddress(address, one_line(str(error))) from error
    if found.ascii_email is None:
        raise BadAddress(address, "the part before the @ has letters that many servers refuse")
    return found.ascii_email


def one_line(text: str) -> str:
    """The text without control and direction characters, its white space folded to single spaces.

    So no name can forge a header, a line of a digest or a direction of reading (RFC 5322 2.2).
    """
    kept = "".join(
        " " if character.isspace() else character
        for character in text
        if character.isspace()
        or character in _JOINERS
        or unicodedata.category(character) not in _UNSEEN
    )
    return " ".join(kept.split())
