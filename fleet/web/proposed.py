"""How is a change of a site shown before it is saved, and saved where it was seen?

A form is sent twice: first to see what it would bring, then with `save`. What brings nothing but
its own words is saved at once.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Final

from flask import redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.answers import FindingRow
from fleet.domain.records import Closure, Holiday, Pattern, RegisterRecord, Site
from fleet.domain.register import Change, Register
from fleet.errors import BadInput, Fault
from fleet.services.register_changes import change_register
from fleet.services.setup.effects import DayChange, Effects, effects_of
from fleet.services.setup.record_changes import FieldChange, field_changes
from fleet.web.asked import Asked, asked
from fleet.web.fields import at_a_form
from fleet.web.guard import TOKEN_FIELD
from fleet.web.who import OVERSEERS
from notifications.digests.words import counted, day

__all__ = ["Meant", "Run", "propose", "runs_of"]

SAVE: Final = "save"
_ONE_DAY: Final = dt.timedelta(days=1)
_MOST_RUNS: Final = 40
_MOST_OF_A_REASON: Final = 8
_MOST_LINES: Final = 25


@dataclass(frozen=True, slots=True)
class Meant:
    """What a form wants written, and taken out."""

    records: Sequence[RegisterRecord] = ()
    withdrawn: Sequence[RegisterRecord] = ()


@dataclass(frozen=True, slots=True)
class Run:
    """Days on which the same changes, from one to another, both included."""

    from_on: dt.date
    to_on: dt.date
    why: str
    """Of closed days, the reason; of opened ones, why they were closed."""
    days: int
    """How many of the span: fewer than it has where a reason comes again and again."""

    @property
    def is_whole(self) -> bool:
        """Say whether every day of the span is one."""
        return self.days > (self.to_on - self.from_on).days


Make = Callable[[Asked, Register, Site], Meant]
Again = Callable[[Sequence[Fault]], ResponseReturnValue]


def propose(site: str, done: str, make: Make, again: Again) -> ResponseReturnValue:
    """Save what a form means, or show first what it would bring.

    done: a word that the site's page explains; again: shows the form with what is wrong with it.
    """
    asking = asked()
    try:
        with asking.write() as record:
            register = record.register()
            place = asking.site(register, site, *OVERSEERS)
            meant = make(asking, register, place)
            given = (record, asking.public_holidays, "site")
            if asking.field(SAVE) == "yes":
                change_register(*given, meant.records, asking.stamp(), withdrawn=meant.withdrawn)
                effects = None
            else:
                effects = effects_of(
                    *given, place, meant.records, asking.stamp(), withdrawn=meant.withdrawn
                )
            if effects is None or effects.are_none:
                record.commit()
                return redirect(url_for("setup_sites.site", site=site, done=done))
    except BadInput as error:
        return again([at_a_form(fault) for fault in error.faults])
    return _shown(asking, place, effects)


def _shown(asking: Asked, site: Site, effects: Effects) -> ResponseReturnValue:
    closes, opens = runs_of(effects.days, closed=True), runs_of(effects.days, closed=False)
    page = asking.page(
        "setup_effects.html",
        site=site,
        told=list(_told(effects.changes)),
        closes=closes[:_MOST_RUNS],
        opens=opens[:_MOST_RUNS],
        closes_more=closes[_MOST_RUNS:],
        opens_more=opens[_MOST_RUNS:],
        counts={
            "closes": sum(one.closes for one in effects.days),
            "opens": sum(one.opens for one in effects.days),
            "renamed": sum(not one.closes and not one.opens for one in effects.days),
        },
        dues=sorted(effects.dues, key=attrgetter("property_number", "task")),
        backdated=[row for row in effects.findings if row.finding == "backdated"],
        findings=_by_sort(effects.findings),
        settled=_by_sort(effects.settled),
        most=_MOST_LINES,
        hidden=_sent(),
        path=request.path,
    )
    return page, 200, {"Cache-Control": "no-store"}


def _told(changes: Sequence[Change]) -> Iterator[str]:
    """What is written, a sentence a record; holidays, of which there are many, in one."""
    holidays = [change for change in changes if isinstance(change.record, Holiday)]
    written = sum(change.new is not None for change in holidays)
    if written:
        yield f"{counted(written, 'holiday')} written down for this site"
    if written < len(holidays):
        yield f"{counted(len(holidays) - written, 'holiday')} of its own taken out"
    for change in changes:
        if change not in holidays:
            yield _change_words(change)


def _change_words(change: Change) -> str:
    if change.old is None:
        return f"New: {_record_words(change.record)}"
    if change.new is None:
        return f"Taken out: {_record_words(change.record)}"
    if isinstance(change.record, Site):
        told = "; ".join(_field_words(one) for one in field_changes(change))
        return told[:1].upper() + told[1:]
    return f"{_record_words(change.old)} becomes {_record_words(change.new)}"


def _field_words(field: FieldChange) -> str:
    name = field.name.replace("_", " ")
    return f"{name}: {field.before or 'nothing'} becomes {field.after or 'nothing'}"


def _record_words(record: RegisterRecord) -> str:
    if isinstance(record, Closure):
        what = "open" if record.open else "closed"
        until = f" to {day(record.to_on)}" if record.to_on > record.from_on else ""
        return f"{what} {day(record.from_on)}{until}" + (
            f", {record.reason}" if record.reason else ""
        )
    if isinstance(record, Pattern):
        return f"open {record.open_days} from {day(record.from_on)} on"
    return " ".join(record.key)


def _by_sort(rows: Sequence[FindingRow]) -> dict[str, list[FindingRow]]:
    found: dict[str, list[FindingRow]] = {}
    for row in rows:
        if row.finding != "backdated":
            found.setdefault(row.finding, []).append(row)
    return found


def _sent() -> list[tuple[str, str]]:
    """The form as it was sent, to be sent again."""
    return [
        (name, value)
        for name, values in request.form.lists()
        for value in values
        if name not in (TOKEN_FIELD, SAVE)
    ]


def runs_of(days: Sequence[DayChange], *, closed: bool) -> list[Run]:
    """The days that close, or those that open, by their reason; a reason of many runs as one."""
    by_reason: dict[str, list[Run]] = {}
    for one in days:
        if not (one.closes if closed else one.opens):
            continue
        why = one.after if closed else one.before
        runs = by_reason.setdefault(why, [])
        if runs and runs[-1].to_on == one.on - _ONE_DAY:
            runs[-1] = Run(runs[-1].from_on, one.on, why, runs[-1].days + 1)
        else:
            runs.append(Run(one.on, one.on, why, 1))
    told = [run for runs in by_reason.values() for run in _few(runs)]
    return sorted(told, key=lambda run: run.from_on)


def _few(runs: Sequence[Run]) -> Sequence[Run]:
    if len(runs) <= _MOST_OF_A_REASON:
        return runs
    days = sum(run.days for run in runs)
    return [Run(runs[0].from_on, runs[-1].to_on, runs[0].why, days)]
