"""Which programs may ask in somebody's name, and how is that given and ended?

A token belongs to an account: it sees and does what its owner may today, and stops with the
account. The program holds a random value, the database its hash. A password that its owner changes
leaves tokens as they are, for they are listed beside it; one that is set by a link ends them, since
that is what is done about an account that somebody else may have come into.
"""

from __future__ import annotations

import datetime as dt
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from fleet.domain.access import Act, ApiToken
from fleet.domain.texts import Wrong, check_text
from fleet.errors import BadInput, Fault
from fleet.services.access.caller import Caller
from fleet.services.access.hours import SEEN_EVERY, TRIES_OF_ADDRESS, WITHIN
from fleet.services.access.visitor import Visitor, visitor_of
from fleet.services.access_ports import Access
from fleet.services.links import token_hash
from fleet.services.ports import Record, Store

__all__ = [
    "MOST_TOKENS",
    "PREFIX",
    "TOKEN_DAYS",
    "Bearer",
    "TokenFault",
    "bearer_of",
    "end_token",
    "end_tokens",
    "live_tokens",
    "make_token",
    "note_use",
    "note_wrong_token",
]

TOKEN_DAYS: Final = (30, 90, 365)
"""So long a token may be made for."""
MOST_TOKENS: Final = 20
"""So many an account may have at once."""
PREFIX: Final = "dueward_"
"""What every token begins with, so that one that was left in a file can be searched for."""
_NAME_LENGTH: Final = 60


class TokenFault(StrEnum):
    """Why a token opens nothing."""

    UNKNOWN = "it is not known"
    ENDED = "it was ended"
    EXPIRED = "its time is over"
    NO_ACCOUNT = "its owner's account is disabled or has no role"


@dataclass(frozen=True, slots=True)
class Bearer:
    """Who asks with a token: nobody where there is a fault. token: None for an unknown one."""

    token: ApiToken | None
    visitor: Visitor | None
    fault: TokenFault | None


def make_token(
    record: Record, caller: Caller, email: str, name: str, days: int, *, may_write: bool
) -> tuple[ApiToken, str]:
    """Make a token of an account; answers it and what the program is to hold, once.

    Raises BadInput for a name that cannot be kept or is that of another of the account's tokens, a
    time that is not one of TOKEN_DAYS, and where there are MOST_TOKENS. The caller commits.
    """
    name = name.strip()
    _check(live_tokens(record.access, email, caller.now), name, days)
    secret = f"{PREFIX}{caller.draw()}"
    token = ApiToken(
        number=secrets.token_hex(4).upper(),
        token_hash=token_hash(secret),
        name=name,
        email=email,
        may_write=may_write,
        made_at=caller.now,
        ends_at=caller.now + dt.timedelta(days=days),
    )
    record.access.put_api_token(token)
    caller.log(record.access, Act.TOKEN_MADE, email, _about(token))
    return token, secret


def _check(standing: Sequence[ApiToken], name: str, days: int) -> None:
    wrongs = {
        "name": check_text(name, _NAME_LENGTH)
        if name
        else Wrong("no name is given", "say which program it is for"),
        "days": None
        if days in TOKEN_DAYS
        else Wrong("this is no time that is offered", "choose one of the list"),
    }
    if wrongs["name"] is None and name in {one.name for one in standing}:
        wrongs["name"] = Wrong(f"'{name}' is the name of another token", "choose another name")
    if len(standing) >= MOST_TOKENS:
        problem = f"there are {len(standing)} tokens already"
        wrongs["name"] = Wrong(problem, "end one that is not needed any more")
    faults = [
        Fault("token", None, field, wrong.problem, wrong.mend)
        for field, wrong in wrongs.items()
        if wrong is not None
    ]
    if faults:
        raise BadInput(faults)


def live_tokens(access: Access, email: str, now: dt.datetime) -> list[ApiToken]:
    """The tokens of an account that were not ended and whose time is not over, the latest first."""
    return [t for t in access.api_tokens(email) if t.ended_at is None and now < t.ends_at]


def end_token(record: Record, caller: Caller, email: str, number: str, by: str) -> bool:
    """End one token of an account; False where it has none of that number. The caller commits."""
    for token in live_tokens(record.access, email, caller.now):
        if token.number == number:
            _end(record.access, caller, token, by)
            return True
    return False


def end_tokens(record: Record, caller: Caller, email: str, by: str) -> None:
    """End every token of an account; the caller commits."""
    for token in live_tokens(record.access, email, caller.now):
        _end(record.access, caller, token, by)


def _end(access: Access, caller: Caller, token: ApiToken, by: str) -> None:
    access.put_api_token(replace(token, ended_at=caller.now))
    caller.log(access, Act.TOKEN_ENDED, token.email, f"{_about(token)}, by {by}")


def bearer_of(record: Record, secret: str, now: dt.datetime) -> Bearer:
    """Who asks with what a program holds, with the roles and sites of today. Writes nothing."""
    access = record.access
    token = access.api_token(token_hash(secret))
    if token is None:
        return Bearer(None, None, TokenFault.UNKNOWN)
    if token.ended_at is not None:
        return Bearer(token, None, TokenFault.ENDED)
    if now >= token.ends_at:
        return Bearer(token, None, TokenFault.EXPIRED)
    visitor = visitor_of(record.register(), access, token.email, now, token.number)
    return Bearer(token, visitor, TokenFault.NO_ACCOUNT if visitor is None else None)


def note_use(store: Store, token: ApiToken, now: dt.datetime) -> None:
    """Note that a token was used, unless that was noted lately."""
    if token.seen_at is not None and now < token.seen_at + SEEN_EVERY:
        return
    with store.begin(write=True) as record:
        record.access.see_api_token(token.number, now)
        record.commit()


def note_wrong_token(record: Record, caller: Caller, bearer: Bearer) -> bool:
    """Log a token that opens nothing; False, and no line, where its address has sent too many.

    They are counted apart from what is tried at the sign-in, so that a program with an old token
    keeps nobody from signing in beside it. The caller commits.
    """
    bucket = f"token from {caller.address}"
    if record.access.tries(bucket, caller.now - WITHIN) >= TRIES_OF_ADDRESS:
        return False
    record.access.add_try(bucket, caller.draw(), caller.now)
    token, fault = bearer.token, bearer.fault or TokenFault.UNKNOWN
    about = f"{_about(token)}: {fault}" if token else str(fault)
    caller.log(record.access, Act.TOKEN_REFUSED, token.email if token else "", about)
    return True


def _about(token: ApiToken) -> str:
    return f"{token.number} ({token.name})"
