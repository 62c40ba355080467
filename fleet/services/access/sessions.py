"""Is a browser signed in, as whom, and for how long still?

The browser holds a random value, the database its hash. A session ends when it was not used for a
while, and in any case some hours after signing in.
"""

from __future__ import annotations

import datetime as dt

from fleet.domain.access import Act, Session
from fleet.services.access.caller import Caller
from fleet.services.access.hours import ABSOLUTE, BENCH_IDLE, IDLE, SEEN_EVERY
from fleet.services.access_ports import Access
from fleet.services.links import token_hash

__all__ = ["begin_session", "end_session", "is_stale", "live_session"]


def begin_session(
    access: Access,
    caller: Caller,
    *,
    email: str = "",
    device: str = "",
    initials: str = "",
    is_whole: bool = True,
) -> str:
    """Sign a browser in and answer its new token; what it held before must be ended by `end`."""
    token = caller.draw()
    access.drop_ended(caller.now - max(IDLE, BENCH_IDLE), caller.now)
    access.add_session(
        Session(
            token_hash=token_hash(token),
            email=email,
            device=device,
            initials=initials,
            is_whole=is_whole,
            made_at=caller.now,
            seen_at=caller.now,
            ends_at=caller.now + ABSOLUTE,
            label=caller.label,
        )
    )
    return token


def live_session(access: Access, token: str, now: dt.datetime) -> Session | None:
    """The session of a token; None for one that is unknown or has ended. Writes nothing."""
    session = access.session(token_hash(token)) if token else None
    if session is None or now >= session.ends_at:
        return None
    idle = IDLE if session.email else BENCH_IDLE
    return None if now >= session.seen_at + idle else session


def is_stale(session: Session, now: dt.datetime) -> bool:
    """Say whether it is time to note again that a session is used."""
    return now >= session.seen_at + SEEN_EVERY


def end_session(access: Access, caller: Caller, session: Session) -> None:
    """Sign a browser out; its token opens nothing any more."""
    access.end_sessions(token_hash=session.token_hash)
    caller.log(access, Act.SIGNED_OUT, session.email or f"{session.device}/{session.initials}")
