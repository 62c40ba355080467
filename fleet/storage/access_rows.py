"""How do accounts, sessions, benches and the access log stand in their tables?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import asdict
from typing import Any, Final, TypeVar

import sqlalchemy as sa

from fleet.domain.access import AccessEvent, Account, ApiToken, BenchPerson, Device, Session
from fleet.storage.access_schema import (
    access_event,
    account,
    api_token,
    attempt,
    bench_device,
    bench_person,
    web_session,
)

__all__ = ["SqlAccess"]

Row = TypeVar("Row")
_TRIES_KEPT: Final = dt.timedelta(days=1)


class SqlAccess:
    """The port `Access` on one unit of work."""

    def __init__(self, connection: sa.Connection, writing: Callable[[], sa.Connection]) -> None:
        self._connection, self._writing = connection, writing

    def account(self, email: str) -> Account | None:
        """The account of an address in its normal form."""
        return self._one(Account, sa.select(account).where(account.c.email == email))

    def accounts(self) -> list[Account]:
        """Every account, by address."""
        return self._all(Account, sa.select(account).order_by(account.c.email))

    def put_account(self, kept: Account) -> None:
        """Write an account, over the one of the same address."""
        self._put(account, asdict(kept), "email")

    def use_step(self, email: str, step: int) -> bool:
        """Take a time step of the second factor; False where it, or a later one, was used."""
        update = (
            sa.update(account)
            .where(account.c.email == email, account.c.totp_step < step)
            .values(totp_step=step)
        )
        return self._writing().execute(update).rowcount == 1

    def session(self, token_hash: str) -> Session | None:
        """The session of a token, also one that has ended by time."""
        query = sa.select(web_session).where(web_session.c.token_hash == token_hash)
        return self._one(Session, query)

    def sessions_of(self, email: str) -> list[Session]:
        """The sessions of an account, the latest first."""
        query = sa.select(web_session).where(web_session.c.email == email)
        return self._all(Session, query.order_by(web_session.c.seen_at.desc()))

    def add_session(self, session: Session) -> None:
        """Keep a session."""
        self._writing().execute(sa.insert(web_session), asdict(session))

    def see_session(self, token_hash: str, at: dt.datetime) -> None:
        """Note that a session was used."""
        update = sa.update(web_session).where(web_session.c.token_hash == token_hash)
        self._writing().execute(update.values(seen_at=at))

    def end_sessions(self, *, token_hash: str = "", email: str = "", device: str = "") -> int:
        """Drop one session, or all of an account or a device; how many."""
        named = {"token_hash": token_hash, "email": email, "device": device}
        ((column, value),) = ((name, value) for name, value in named.items() if value)
        delete = sa.delete(web_session).where(web_session.c[column] == value)
        return self._writing().execute(delete).rowcount

    def drop_ended(self, seen_before: dt.datetime, now: dt.datetime) -> None:
        """Drop sessions that ended by time, or were not used since an instant."""
        is_over = sa.or_(web_session.c.ends_at <= now, web_session.c.seen_at <= seen_before)
        self._writing().execute(sa.delete(web_session).where(is_over))

    def device(self, token_hash: str) -> Device | None:
        """The device of a token, also one that was ended."""
        query = sa.select(bench_device).where(bench_device.c.token_hash == token_hash)
        return self._one(Device, query)

    def devices_at(self, site: str) -> list[Device]:
        """The devices of a site that are in use, by name."""
        this = (bench_device.c.site == site, bench_device.c.ended_at.is_(None))
        order = (bench_device.c.name, bench_device.c.number)
        return self._all(Device, sa.select(bench_device).where(*this).order_by(*order))

    def put_device(self, device: Device) -> None:
        """Write a device, over the one of the same number."""
        self._put(bench_device, asdict(device), "number")

    def bench_people(self, site: str) -> list[BenchPerson]:
        """Who may mark at a site's bench now, by initials."""
        this = (bench_person.c.site == site, bench_person.c.ended_at.is_(None))
        query = sa.select(bench_person).where(*this).order_by(bench_person.c.initials)
        return self._all(BenchPerson, query)

    def put_bench_person(self, person: BenchPerson) -> None:
        """Write a person, over the one of the same site and initials."""
        self._put(bench_person, asdict(person), "site", "initials")

    def api_token(self, token_hash: str) -> ApiToken | None:
        """The token of a hash, also one that has ended."""
        return self._one(ApiToken, sa.select(api_token).where(api_token.c.token_hash == token_hash))

    def api_tokens(self, email: str) -> list[ApiToken]:
        """Every token of an account, the latest first."""
        query = sa.select(api_token).where(api_token.c.email == email)
        return self._all(ApiToken, query.order_by(api_token.c.made_at.desc(), api_token.c.number))

    def put_api_token(self, token: ApiToken) -> None:
        """Write a token, over the one of the same number."""
        self._put(api_token, asdict(token), "number")

    def see_api_token(self, number: str, at: dt.datetime) -> None:
        """Note that a token was used."""
        update = sa.update(api_token).where(api_token.c.number == number)
        self._writing().execute(update.values(seen_at=at))

    def tries(self, bucket: str, since: dt.datetime) -> int:
        """How often something failed since an instant."""
        this = (attempt.c.bucket == bucket, attempt.c.at > since)
        query = sa.select(sa.func.count()).select_from(attempt).where(*this)
        return self._connection.execute(query).scalar_one()

    def add_try(self, bucket: str, number: str, at: dt.datetime) -> None:
        """Note that it failed; those of more than a day before are dropped."""
        writing = self._writing()
        writing.execute(sa.delete(attempt).where(attempt.c.at < at - _TRIES_KEPT))
        writing.execute(sa.insert(attempt), {"number": number, "bucket": bucket, "at": at})

    def forget_tries(self, bucket: str) -> None:
        """Drop what was noted of it."""
        self._writing().execute(sa.delete(attempt).where(attempt.c.bucket == bucket))

    def log(self, event: AccessEvent, number: str) -> None:
        """Add a line to the access log."""
        self._writing().execute(sa.insert(access_event), {**asdict(event), "number": number})

    def logged(self, count: int, who: str = "") -> list[AccessEvent]:
        """The latest lines, the last first; `who` '' for everybody's."""
        names = ("at", "act", "who", "address", "about")
        query = sa.select(*(access_event.c[name] for name in names))
        if who:
            query = query.where(access_event.c.who == who)
        return self._all(AccessEvent, query.order_by(access_event.c.at.desc()).limit(count))

    def _one(self, kind: type[Row], query: sa.Select[Any]) -> Row | None:
        row = self._connection.execute(query).mappings().one_or_none()
        return None if row is None else kind(**row)

    def _all(self, kind: type[Row], query: sa.Select[Any]) -> list[Row]:
        return [kind(**row) for row in self._connection.execute(query).mappings()]

    def _put(self, table: sa.Table, row: dict[str, Any], *keys: str) -> None:
        writing = self._writing()
        this = [table.c[name] == row[name] for name in keys]
        if writing.execute(sa.update(table).where(*this).values(row)).rowcount == 0:
            writing.execute(sa.insert(table), row)
