"""Which mail did not reach whom, and who is away with nobody reading their mail?"""

from __future__ import annotations

import shlex
from collections.abc import Iterable

from notifications.addresses import one_line
from notifications.digests.folding import item
from notifications.digests.sections import Line, Section, Tone, some_of
from notifications.digests.words import day
from notifications.facts import Away, NotReached
from notifications.languages import tr

__all__ = ["away_section", "not_reached_section"]


def not_reached_section(some: Iterable[NotReached]) -> Section:
    """A line a mail that was given up; without a line where all arrived."""
    return Section(
        title=tr("Mail that did not arrive"),
        caption=tr("Call them, and correct the address; then send it again with the command"),
        columns=(tr("To whom, and what"), tr("Why")),
        lines=tuple(_lost(one) for one in some),
        where="dueward outbox",
    )


def _lost(one: NotReached) -> Line:
    act = (
        f"--resume {shlex.quote(one_line(one.email))}" if one.is_suspended else f"--retry {one.key}"
    )
    when = tr("the address is suspended: {why}", why=one.why) if one.is_suspended else one.why
    return Line(
        head=f"{one.name} ({one.email})" if one.name else one.email,
        about=one.subject or tr("no mail was written to it"),
        when=when,
        tone=Tone.LATE,
        beside=tr("of {day}", day=day(one.day_on)) if one.day_on else "",
        command=f"dueward outbox {act}",
        items=((item("lost", one.key), "suspended" if one.is_suspended else "dead"),),
    )


def away_section(some: Iterable[Away]) -> Section:
    """A line a person who is away and has no deputy who is there."""
    return Section(
        title=tr("Away without a deputy"),
        caption=tr("Their mail waits for them; name somebody who reads it meanwhile"),
        columns=(tr("Who, and for which sites"), tr("How long")),
        lines=tuple(_away(one) for one in some),
        where="dueward away",
    )


def _away(one: Away) -> Line:
    places = some_of([place.name for place in one.places]) or tr("no site")
    email = shlex.quote(one_line(one.email))
    when = tr("Away until {day}", day=day(one.until_on))
    return Line(
        head=f"{one.name} ({one.email})" if one.name else one.email,
        about=places,
        when=when,
        tone=Tone.SOON,
        beside=tr("the deputy, {deputy}, is away too", deputy=one.deputy) if one.deputy else "",
        command=f"dueward away {email} --from {one.from_on} --to {one.until_on} --deputy ADDRESS",
        items=((item("away", one.email), f"{one.from_on} {one.until_on} {one.deputy}"),),
    )
