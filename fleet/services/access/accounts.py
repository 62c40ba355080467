"""How does somebody get an account, a new password, a second factor, and how do they lose it?

There is no account at the beginning. An invitation is a link that opens once, for a day, and lets
its reader set a password; a forgotten password is replaced in the same way, for an hour.
"""

from __future__ import annotations

from dataclasses import replace

from fleet.domain.access import Account, Act
from fleet.domain.register import Register
from fleet.domain.texts import Wrong
from fleet.errors import BadInput, Fault, LinkRefused
from fleet.services.access.api_tokens import end_tokens
from fleet.services.access.caller import Caller
from fleet.services.access.hours import INVITE_FOR, RESET_FOR
from fleet.services.access.passwords import password_wrong
from fleet.services.access.totp import step_of
from fleet.services.access.visitor import account_name, people_of
from fleet.services.links import Link, Purpose, look_at, make_link, spend
from fleet.services.ports import Record

__all__ = [
    "change_password",
    "disable",
    "enable",
    "end_second_factor",
    "invite",
    "look_at_door",
    "reset_link",
    "set_password",
    "set_up_second_factor",
]


def invite(record: Record, caller: Caller, email: str, by: str) -> str:
    """Make the path of an invitation; the caller commits.

    Raises BadInput for an address that has no role in the register: it could see nothing.
    """
    email = account_name(email)
    if not people_of(record.register(), email):
        problem = f"'{email}' has no role in the register"
        raise _wrong("email", Wrong(problem, "add a row to people, or a site's lead_email, first"))
    caller.log(record.access, Act.INVITED, email, f"by {by}")
    ends_at = caller.now + INVITE_FOR
    return make_link(record, caller.draw(), email, Purpose.INVITE, {}, caller.now, ends_at)


def reset_link(record: Record, caller: Caller, email: str) -> str | None:
    """Make the path under which a password is set anew; None where there is no open account."""
    account = record.access.account(account_name(email))
    if account is None or account.disabled_at is not None:
        return None
    ends_at = caller.now + RESET_FOR
    return make_link(record, caller.draw(), account.email, Purpose.RESET, {}, caller.now, ends_at)


def look_at_door(record: Record, caller: Caller, token: str) -> Link:
    """What an invitation or reset opens; LinkRefused where a password was set after it was made."""
    link = look_at(record, token, caller.now)
    account = record.access.account(link.email)
    if link.purpose not in (Purpose.INVITE, Purpose.RESET):
        raise LinkRefused("unknown")
    if account is not None and link.made_at <= account.password_at:
        raise LinkRefused("ended")
    return link


def set_password(record: Record, caller: Caller, token: str, password: str, hashed: str) -> str:
    """Set a password behind a link, which is spent; answers the address. The caller commits.

    hashed: what is kept of it, made before this unit of work began. Every session and
    token of the account ends. Raises LinkRefused, and BadInput for a password that may not be one,
    which spends nothing.
    """
    link = look_at_door(record, caller, token)
    _refuse_weak(record.register(), link.email, password)
    spend(record, token, link.purpose, caller.now, link.email)
    account = record.access.account(link.email)
    if account is None:
        account = _new_account(caller, link.email, hashed)
    if account.disabled_at is not None:
        raise LinkRefused("ended")
    end_tokens(record, caller, account.email, "a link for a new password")
    _keep_password(record, caller, account, hashed)
    return link.email


def change_password(
    record: Record, caller: Caller, email: str, password: str, hashed: str, *, is_known: bool
) -> None:
    """Replace a password by one that its owner chose; the caller commits, and signs in anew.

    is_known: the present password was given with it. Raises BadInput.
    """
    account = record.access.account(email)
    if account is None or not is_known:
        mend = "give the one you sign in with"
        raise _wrong("present", Wrong("the present password is another", mend))
    _refuse_weak(record.register(), email, password)
    _keep_password(record, caller, account, hashed)


def _new_account(caller: Caller, email: str, hashed: str) -> Account:
    return Account(email=email, password_hash=hashed, password_at=caller.now, made_at=caller.now)


def _keep_password(record: Record, caller: Caller, account: Account, hashed: str) -> None:
    kept = replace(account, password_hash=hashed, password_at=caller.now)
    record.access.put_account(kept)
    record.access.end_sessions(email=account.email)
    record.access.forget_tries(account.email)
    caller.log(record.access, Act.PASSWORD_SET, account.email)


def _refuse_weak(register: Register, email: str, password: str) -> None:
    people = people_of(register, email)
    sites = [register.sites[(p.site,)] for p in people if (p.site,) in register.sites]
    about = ["dueward", email, *email.split("@")]
    about += [word for person in people for word in (person.name, *person.name.split())]
    about += [word for site in sites for word in (site.site, site.name, site.county)]
    if (wrong := password_wrong(password, about)) is not None:
        raise _wrong("password", wrong)


def set_up_second_factor(record: Record, caller: Caller, email: str, key: str, code: str) -> None:
    """Ask for a code at each sign-in from now on; BadInput unless this code is of the key."""
    account, step = record.access.account(email), step_of(key, code, caller.now)
    if account is None or step is None:
        mend = "wait for the next code and check the phone's clock"
        raise _wrong("code", Wrong("this code does not fit", mend))
    record.access.put_account(replace(account, totp_key=key, totp_step=step))
    caller.log(record.access, Act.TOTP_SET, email)


def end_second_factor(record: Record, caller: Caller, email: str, by: str) -> None:
    """Ask for no code any more, as when a phone was lost; the caller commits."""
    account = _account(record, email)
    record.access.put_account(replace(account, totp_key="", totp_step=0))
    record.access.end_sessions(email=account.email)
    caller.log(record.access, Act.TOTP_ENDED, account.email, f"by {by}")


def disable(record: Record, caller: Caller, email: str, by: str) -> None:
    """Let an account in no more, and end its sessions and tokens at once; the caller commits."""
    account = _account(record, email)
    record.access.put_account(replace(account, disabled_at=caller.now))
    record.access.end_sessions(email=account.email)
    end_tokens(record, caller, account.email, by)
    caller.log(record.access, Act.DISABLED, account.email, f"by {by}")


def enable(record: Record, caller: Caller, email: str, by: str) -> None:
    """Let a disabled account in again; the caller commits."""
    account = _account(record, email)
    record.access.put_account(replace(account, disabled_at=None))
    caller.log(record.access, Act.ENABLED, account.email, f"by {by}")


def _account(record: Record, email: str) -> Account:
    account = record.access.account(account_name(email))
    if account is None:
        mend = "dueward access lists those there are"
        raise _wrong("email", Wrong(f"'{email}' has no account", mend))
    return account


def _wrong(field: str, wrong: Wrong) -> BadInput:
    return BadInput([Fault("account", None, field, wrong.problem, wrong.mend)])
