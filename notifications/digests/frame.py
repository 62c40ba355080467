"""What do all digests share? The period they speak of, when an empty one is still sent, and why.

Cadence: weekly, on Monday at 07:00 local time if nothing else is set. An empty digest is not sent,
but the first of a month says so; a manager's always comes, since it carries the record's root.
"""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import replace

from notifications.addresses import one_line
from notifications.digests.page_addresses import page_address
from notifications.digests.sections import cleaned
from notifications.digests.words import day, joined, week_start
from notifications.facts import Reader, StandIn
from notifications.languages import tr, trn
from notifications.messages import Kind, Message, Skipped

__all__ = [
    "SUBJECT_LENGTH",
    "digest",
    "empty",
    "for_whom",
    "letter",
    "listed",
    "subject",
    "weekly_period",
    "where",
]

SUBJECT_LENGTH = 70
"""A longer subject is folded in two on its way (RFC 5322 2.1.1), and some programs show that."""
_NAMES_SHOWN = 3


def weekly_period(on: dt.date) -> str:
    """The ISO week of a day: '2026-W49' (ISO 8601)."""
    year, week, _ = on.isocalendar()
    return f"{year}-W{week:02d}"


def digest(
    kind: Kind,
    reader: Reader,
    period: str,
    who: str,
    context: Mapping[str, object],
    items: Mapping[str, str] | None = None,
) -> Message:
    """A message that tells something; `who` is the sentence 'You get this because …'."""
    message = _message(kind, reader, period, who, {**context, "all_clear": False})
    return replace(message, items=items or {})


def empty(
    kind: Kind, reader: Reader, on: dt.date, who: str, context: Mapping[str, object]
) -> Message | Skipped:
    """All clear where this is the first digest of a month, else nothing, with the reason.

    A manager is told every week.
    """
    if kind is Kind.MANAGER or week_start(on).day <= 7:
        return _message(kind, reader, weekly_period(on), who, {**context, "all_clear": True})
    return Skipped(
        kind, reader.email, weekly_period(on), "nothing to do; all clear is told once a month"
    )


def letter(
    kind: Kind,
    reader: Reader,
    period: str,
    reasons: Sequence[str],
    context: Mapping[str, object],
    items: Mapping[str, str] | None = None,
) -> Message:
    """A message that is no digest: `reasons` say why it comes and when the next one does."""
    closing = tr("To change who gets it, reply to this mail.")
    whole = {**context, "reasons": (*reasons, closing), "all_clear": False}
    return Message(
        kind=kind,
        email=reader.email,
        name=one_line(reader.name),
        period=period,
        dated_at=reader.dated_at,
        is_all_clear=False,
        context={name: cleaned(value) for name, value in whole.items()},
        language=reader.language,
        items=items or {},
    )


def for_whom(stand_in: Sequence[StandIn]) -> tuple[str, ...]:
    """For whom the reader gets it too while they are away, a sentence each."""
    return tuple(
        tr(
            "You also get this for {name}, who is away until {day}.",
            name=one_line(one.name),
            day=day(one.until_on),
        )
        for one in stand_in
    )


def _message(
    kind: Kind, reader: Reader, period: str, who: str, context: Mapping[str, object]
) -> Message:
    reasons = (
        who,
        _how_often(kind, reader),
        tr(
            "To change how often it comes or who gets it, or to hand it to a deputy while you are"
            " away, reply to this mail."
        ),
    )
    whole = {**context, "reasons": reasons}
    return Message(
        kind=kind,
        email=reader.email,
        name=one_line(reader.name),
        period=period,
        dated_at=reader.dated_at,
        is_all_clear=bool(context["all_clear"]),
        context={name: cleaned(value) for name, value in whole.items()},
        language=reader.language,
    )


def _how_often(kind: Kind, reader: Reader) -> str:
    at = f"{reader.dated_at:%H:%M}"
    if kind is Kind.MANAGER:
        return tr(
            "It comes once a week at {time}, your time. It comes even when there is nothing to"
            " plan: it carries the record's root, and silence means a fault.",
            time=at,
        )
    return tr(
        "It comes once a week at {time}, your time. It is left out when there is nothing to do,"
        " save once a month.",
        time=at,
    )


def listed(names: Sequence[str], noun: str) -> str:
    """Names in a sentence, the first few of many: 'A, B, C and 9 more sites'.

    noun: 'site' or 'region'.
    """
    if len(names) <= _NAMES_SHOWN + 1:
        return joined(names)
    more = len(names) - _NAMES_SHOWN
    if noun == "region":
        rest = trn("{count} more region", "{count} more regions", more)
    else:
        rest = trn("{count} more site", "{count} more sites", more)
    return joined([*names[:_NAMES_SHOWN], rest])


def subject(whose: str, short: str, news: Sequence[str]) -> str:
    """'whose: news', the most urgent first, in SUBJECT_LENGTH characters wherever it can be.

    Where it is too long `short` stands for whose it is, and then the least urgent is left out.
    """
    for count in range(len(news), 0, -1):
        some = ", ".join(news[:count])
        some = tr("{news} and more", news=some) if count < len(news) else some
        for name in (whose, short):
            told = f"{name}: {some}"
            if len(told) <= SUBJECT_LENGTH:
                return told
    return told


def where(base_url: str, command: str, on: dt.date, options: Mapping[str, Sequence[str]]) -> str:
    """Where to see all of it: the pages if they are served, else a command to copy."""
    if page := page_address(base_url, command, options):
        return page
    given = [
        f"{option} {shlex.quote(one_line(value))}"
        for option, values in options.items()
        for value in values
    ]
    return " ".join(["dueward", command, *given, *([f"--on {on}"] if command == "due" else [])])
