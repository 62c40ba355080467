"""Does a password, and then a code of the second factor, let somebody in?

An unknown address, a wrong password, a disabled account and one that is slowed down get the same
answer after the same work, so that nobody learns from it which addresses have accounts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from fleet.domain.access import Account, Act, Session
from fleet.services.access.caller import Caller
from fleet.services.access.sessions import begin_session
from fleet.services.access.throttle import forgive, is_slowed, note_failure
from fleet.services.access.totp import step_of
from fleet.services.access.visitor import account_name
from fleet.services.access_ports import Access
from fleet.services.ports import Store

__all__ = ["SignedIn", "confirm_code", "sign_in"]

_NO_HASH: Final = ""


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A new session's token; is_whole False: the second factor comes next."""

    token: str
    email: str
    is_whole: bool


def sign_in(
    store: Store, caller: Caller, email: str, password: str, before: Session | None
) -> SignedIn | None:
    """Try an address and a password; None where they do not let anybody in.

    before: the browser's session until now, which ends. The password is tried outside of any unit
    of work, since it takes as long as many of them.
    """
    email = account_name(email)
    with store.begin() as record:
        account, slowed = record.access.account(email), is_slowed(record.access, caller, email)
    is_open = account is not None and account.disabled_at is None and not slowed
    kept = account.password_hash if account is not None else _NO_HASH
    fits = caller.hasher.fits(kept, password)
    with store.begin(write=True) as record:
        access = record.access
        if not (is_open and fits) or account is None:
            _refuse(access, caller, email, slowed=slowed)
            record.commit()
            return None
        signed = _let_in(access, caller, account, password, before)
        record.commit()
    return signed


def _refuse(access: Access, caller: Caller, email: str, *, slowed: bool) -> None:
    if not slowed:
        note_failure(access, caller, email)
    caller.log(access, Act.SLOWED if slowed else Act.NOT_SIGNED_IN, email)


def _let_in(
    access: Access, caller: Caller, account: Account, password: str, before: Session | None
) -> SignedIn:
    if caller.hasher.is_dated(account.password_hash):
        access.put_account(replace(account, password_hash=caller.hasher.hashed(password)))
    if before is not None:
        access.end_sessions(token_hash=before.token_hash)
    is_whole = not account.totp_key
    if is_whole:
        forgive(access, account.email)
        caller.log(access, Act.SIGNED_IN, account.email)
    token = begin_session(access, caller, email=account.email, is_whole=is_whole)
    return SignedIn(token, account.email, is_whole)


def confirm_code(store: Store, caller: Caller, session: Session, code: str) -> SignedIn | None:
    """Try a code of the second factor; None where it is wrong, old or was used already."""
    with store.begin(write=True) as record:
        access = record.access
        account = access.account(session.email)
        slowed = is_slowed(access, caller, session.email)
        step = None if account is None or slowed else step_of(account.totp_key, code, caller.now)
        if account is None or step is None or not access.use_step(account.email, step):
            _refuse(access, caller, session.email, slowed=slowed)
            record.commit()
            return None
        access.end_sessions(token_hash=session.token_hash)
        forgive(access, account.email)
        caller.log(access, Act.SIGNED_IN, account.email)
        token = begin_session(access, caller, email=account.email)
        record.commit()
    return SignedIn(token, session.email, True)
