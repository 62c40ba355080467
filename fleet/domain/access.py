"""Who may open the pages? Accounts, signed-in browsers, benches and the people who mark there.

None of this belongs to the record: it is neither chained nor exported. Secrets stand here as
hashes, except a TOTP key, which both sides must know.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

__all__ = ["AccessEvent", "Account", "Act", "ApiToken", "BenchPerson", "Device", "Session"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """One address that may sign in with a password; its roles are those of the register."""

    email: str
    password_hash: str
    password_at: dt.datetime
    """When the password was set; what was given out before opens nothing any more."""
    totp_key: str = ""
    """Base 32, '' where no second factor is set up (RFC 6238)."""
    totp_step: int = 0
    """The last time step a code was used in, so that none is used twice."""
    made_at: dt.datetime
    disabled_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One signed-in browser: of an account, or of a person at a site's bench."""

    token_hash: str
    email: str = ""
    device: str = ""
    initials: str = ""
    is_whole: bool = True
    """False after the password, until the second factor."""
    made_at: dt.datetime
    seen_at: dt.datetime
    ends_at: dt.datetime
    label: str = ""
    """What the browser calls itself, so that its owner knows it in a list."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A browser at a bench, enrolled by its site's lead: it marks this site and no other."""

    number: str
    site: str
    name: str
    token_hash: str
    enrolled_by: str
    enrolled_at: dt.datetime
    ended_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchPerson:
    """Who marks at a site's bench: initials, kept with each entry, and a short PIN."""

    site: str
    initials: str
    name: str
    pin_hash: str
    made_by: str
    made_at: dt.datetime
    ended_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiToken:
    """What another program asks with: it may what its owner may, today, and no more."""

    number: str
    token_hash: str
    name: str
    """What its owner calls it, so that they know it in a list."""
    email: str
    """The owner's account."""
    may_write: bool
    made_at: dt.datetime
    ends_at: dt.datetime
    ended_at: dt.datetime | None = None
    """When somebody ended it, before its time."""
    seen_at: dt.datetime | None = None
    """When it was last asked with, to some minutes; None: never."""


class Act(StrEnum):
    """What is logged of who came in and who did not."""

    SIGNED_IN = "signed in"
    SIGNED_OUT = "signed out"
    NOT_SIGNED_IN = "sign-in failed"
    SLOWED = "sign-in refused: too many tries"
    REFUSED = "refused"
    PASSWORD_SET = "password set"  # noqa: S105 - a word of the log
    INVITED = "invited"
    ASKED_RESET = "asked for a new password"
    TOTP_SET = "second factor set up"
    TOTP_ENDED = "second factor ended"
    DISABLED = "account disabled"
    ENABLED = "account enabled"
    SESSIONS_ENDED = "signed-in browsers ended"
    BENCH_CODE = "bench code made"
    BENCH_ENROLLED = "bench enrolled"
    BENCH_ENDED = "bench ended"
    PIN_SET = "PIN given"
    BENCH_PERSON_ENDED = "initials ended"
    WEBHOOK_MADE = "webhook made"
    WEBHOOK_SECRET = "webhook secret drawn"  # noqa: S105 - a word of the log
    WEBHOOK_TRIED = "webhook tried"
    WEBHOOK_RESENT = "webhook message sent again"
    WEBHOOK_TAKEN_BACK = "webhook message taken back"
    WEBHOOK_ENDED = "webhook ended"
    TOKEN_MADE = "token made"  # noqa: S105 - a word of the log
    TOKEN_ENDED = "token ended"  # noqa: S105 - a word of the log
    TOKEN_REFUSED = "token refused"  # noqa: S105 - a word of the log


@dataclass(frozen=True, slots=True, kw_only=True)
class AccessEvent:
    """One line of the access log: never a password, a token or a cookie."""

    at: dt.datetime
    act: Act
    who: str
    """An address, or 'site/initials'."""
    address: str
    """Where the request came from."""
    about: str = ""
