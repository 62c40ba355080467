"""What do accounts, sessions and benches need of the store, and of a password hash?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Protocol

from fleet.domain.access import AccessEvent, Account, ApiToken, BenchPerson, Device, Session

__all__ = ["Access", "Hasher"]


class Access(Protocol):
    """Who may open the pages, on one unit of work."""

    def account(self, email: str) -> Account | None:
        """The account of an address in its normal form."""
        ...

    def accounts(self) -> Sequence[Account]:
        """Every account, by address."""
        ...

    def put_account(self, account: Account) -> None:
        """Write an account, over the one of the same address."""
        ...

    def use_step(self, email: str, step: int) -> bool:
        """Take a time step of the second factor; False where it, or a later one, was used."""
        ...

    def session(self, token_hash: str) -> Session | None:
        """The session of a token, also one that has ended by time."""
        ...

    def sessions_of(self, email: str) -> Sequence[Session]:
        """The sessions of an account, the latest first."""
        ...

    def add_session(self, session: Session) -> None:
        """Keep a session."""
        ...

    def see_session(self, token_hash: str, at: dt.datetime) -> None:
        """Note that a session was used."""
        ...

    def end_sessions(self, *, token_hash: str = "", email: str = "", device: str = "") -> int:
        """Drop one session, or all of an account or a device; how many."""
        ...

    def drop_ended(self, seen_before: dt.datetime, now: dt.datetime) -> None:
        """Drop sessions that ended by time, or were not used since an instant."""
        ...

    def device(self, token_hash: str) -> Device | None:
        """The device of a token, also one that was ended."""
        ...

    def devices_at(self, site: str) -> Sequence[Device]:
        """The devices of a site that are in use, by name."""
        ...

    def put_device(self, device: Device) -> None:
        """Write a device, over the one of the same number."""
        ...

    def bench_people(self, site: str) -> Sequence[BenchPerson]:
        """Who may mark at a site's bench now, by initials."""
        ...

    def put_bench_person(self, person: BenchPerson) -> None:
        """Write a person, over the one of the same site and initials."""
        ...

    def api_token(self, token_hash: str) -> ApiToken | None:
        """The token of a hash, also one that has ended."""
        ...

    def api_tokens(self, email: str) -> Sequence[ApiToken]:
        """Every token of an account, the latest first."""
        ...

    def put_api_token(self, token: ApiToken) -> None:
        """Write a token, over the one of the same number."""
        ...

    def see_api_token(self, number: str, at: dt.datetime) -> None:
        """Note that a token was used."""
        ...

    def tries(self, bucket: str, since: dt.datetime) -> int:
        """How often something failed since an instant."""
        ...

    def add_try(self, bucket: str, number: str, at: dt.datetime) -> None:
        """Note that it failed; those of more than a day before are dropped."""
        ...

    def forget_tries(self, bucket: str) -> None:
        """Drop what was noted of it."""
        ...

    def log(self, event: AccessEvent, number: str) -> None:
        """Add a line to the access log."""
        ...

    def logged(self, count: int, who: str = "") -> Sequence[AccessEvent]:
        """The latest lines, the last first; `who` '' for everybody's."""
        ...


class Hasher(Protocol):
    """Turns passwords and PINs into what is kept of them (argon2id, OWASP's least settings)."""

    def hashed(self, secret: str) -> str:
        """What is kept; differs each time."""
        ...

    def fits(self, kept: str, secret: str) -> bool:
        """Say whether the secret is the one; takes as long for '' as for a real hash."""
        ...

    def is_dated(self, kept: str) -> bool:
        """Say whether it was made with other settings than those of today."""
        ...
