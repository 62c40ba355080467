"""How does a link in a mail open the right page, once, for a while, and change nothing by itself?

A link is a token nobody can guess; only its SHA-256 is kept. Looking at one (GET) writes nothing,
since mail programs open links to check them; `spend` is the act behind it (POST), which one of two
at the same moment wins.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from fleet.errors import LinkRefused
from fleet.services.calendar_ports import LinkRow
from fleet.services.ports import Record

__all__ = ["Link", "Purpose", "look_at", "make_link", "spend", "token_hash"]

_LEAST: Final = 32
"""Characters of a token: 192 bits of chance in URL-safe base 64."""


class Purpose(StrEnum):
    """What a link is for; it opens and does nothing else."""

    SITE = "site"
    REGION = "region"
    PROGRAM = "program"
    REVIEW = "review"
    CHARTS = "charts"
    VISIT = "visit"
    REPORT = "report"
    INVITE = "invite"
    RESET = "reset"
    BENCH = "bench"
    TRIP = "trip"
    PACKET = "packet"


@dataclass(frozen=True, slots=True)
class Link:
    """What a link may do: for whom it was made, for which purpose, of what."""

    email: str
    purpose: Purpose
    scope: Mapping[str, str]
    ends_at: dt.datetime
    made_at: dt.datetime


def make_link(
    record: Record,
    token: str,
    email: str,
    purpose: Purpose,
    scope: Mapping[str, str],
    now: dt.datetime,
    ends_at: dt.datetime,
) -> str:
    """Keep a link and answer its path; the caller commits.

    token: drawn by the program, URL-safe; ValueError for one that is too short to be secret. scope:
    of what, as {'site': 'adams'}; ends_at: the instant from which it is refused.
    """
    if len(token) < _LEAST:
        raise ValueError(f"a token has {_LEAST} characters or more")
    row = LinkRow(
        token_hash=token_hash(token),
        email=email,
        purpose=purpose.value,
        scope=json.dumps(dict(scope), sort_keys=True),
        made_at=now,
        ends_at=ends_at,
    )
    record.links.add(row)
    return f"/l/{token}"


def look_at(record: Record, token: str, now: dt.datetime) -> Link:
    """What a link opens; it stays as it is. Raises LinkRefused for one that opens nothing."""
    row = record.links.find(token_hash(token))
    if row is None:
        raise LinkRefused("unknown")
    if row.used_at is not None:
        raise LinkRefused("used")
    if now >= row.ends_at:
        raise LinkRefused("ended")
    return Link(row.email, Purpose(row.purpose), json.loads(row.scope), row.ends_at, row.made_at)


def spend(record: Record, token: str, purpose: Purpose, now: dt.datetime, by: str) -> Link:
    """Use a link for the act it is for; the caller commits both. Raises LinkRefused, and uses
    nothing, where it has ended, was used, or is for something else.
    """
    link = look_at(record, token, now)
    if link.purpose is not purpose:
        raise LinkRefused("unknown")
    if not record.links.spend(token_hash(token), purpose.value, now, by):
        raise LinkRefused("used")
    return link


def token_hash(token: str) -> str:
    """What is kept of a token: who reads the database cannot use it."""
    return hashlib.sha256(token.encode()).hexdigest()
