"""Has somebody failed too often, to be let try again now?

Failures are counted by what was tried (an account, initials at a bench) and by where they came
from; after a while both are let in again by themselves. An account is slowed whatever the address.
"""

from __future__ import annotations

from fleet.domain.access import Act
from fleet.services.access.caller import Caller
from fleet.services.access.hours import (
    TRIES,
    TRIES_OF_ADDRESS,
    WITHIN,
    WRONG_LINKS,
    WRONG_LINKS_WITHIN,
)
from fleet.services.access_ports import Access
from fleet.services.ports import Store

__all__ = ["forgive", "is_slowed", "note_failure", "wait_after_wrong_link"]


def is_slowed(access: Access, caller: Caller, what: str) -> bool:
    """Say whether what is tried, or the address it is tried from, has failed too often."""
    since = caller.now - WITHIN
    if access.tries(what, since) >= TRIES:
        return True
    return access.tries(_origin(caller), since) >= TRIES_OF_ADDRESS


def note_failure(access: Access, caller: Caller, what: str) -> None:
    """Count a failure, of what was tried and of the address."""
    access.add_try(what, caller.draw(), caller.now)
    access.add_try(_origin(caller), caller.draw(), caller.now)


def forgive(access: Access, what: str) -> None:
    """Forget the failures of what was tried; those of the address stay."""
    access.forget_tries(what)


def wait_after_wrong_link(store: Store, caller: Caller) -> int:
    """Count and log a link that nobody gave; so many seconds its address is to wait, 0 for none.

    Counted apart from what is tried at the sign-in: a mail that was cut short keeps nobody at the
    same network address from signing in. Once there were too many, nothing is written any more.
    """
    bucket, since = f"link from {caller.address}", caller.now - WRONG_LINKS_WITHIN
    with store.begin() as record:
        if record.access.tries(bucket, since) >= WRONG_LINKS:
            return int(WRONG_LINKS_WITHIN.total_seconds())
    with store.begin(write=True) as record:
        record.access.add_try(bucket, caller.draw(), caller.now)
        caller.log(record.access, Act.REFUSED, "", "a link that nobody gave")
        record.commit()
    return 0


def _origin(caller: Caller) -> str:
    return f"from {caller.address}"
