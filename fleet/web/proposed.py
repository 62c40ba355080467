"""How is a change of a site shown before it is saved, and saved where it was seen?

A form is sent twice: first to see what it would bring, then with `save`. What brings nothing but
its own words is saved at once.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Final

from flask import redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.answers import FindingRow
from fleet.domain.records import RegisterRecord, Site
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault
from fleet.services.register_changes import change_register
from fleet.services.setup.effects import DayChange, Effects, effects_of
from fleet.services.setup.record_changes import told_change
from fleet.web.asked import Asked, asked
from fleet.web.fields import at_a_form
from fleet.web.guard import TOKEN_FIELD
from fleet.web.who import OVERSEERS

__all__ = ["Meant", "Run", "propose", "runs_of"]

SAVE: Final = "save"
_ONE_DAY: Final = dt.timedelta(days=1)
_MOST_RUNS: Final = 40
_MOST_LINES: Final = 25


@dataclass(frozen=True, slots=True)
class Meant:
    """What a form wants written, and taken out."""

    records: Sequence[RegisterRecord] = ()
    withdrawn: Sequence[RegisterRecord] = ()


@dataclass(frozen=True, slots=True)
class Run:
    """Days after each other on which the same changes, both ends included."""

    from_on: dt.date
    to_on: dt.date
    why: str
    """Of closed days, the reason; of opened ones, why they were closed."""


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
            told = [told_change(register, change, asking.now) for change in effects.changes]
    except BadInput as error:
        return again([at_a_form(fault) for fault in error.faults])
    return _shown(asking, place, effects, told)


def _shown(
    asking: Asked, site: Site, effects: Effects, told: Sequence[object]
) -> ResponseReturnValue:
    closes, opens = runs_of(effects.days, closed=True), runs_of(effects.days, closed=False)
    page = asking.page(
        "setup_effects.html",
        site=site,
        told=told,
        closes=closes[:_MOST_RUNS],
        opens=opens[:_MOST_RUNS],
        closes_more=closes[_MOST_RUNS:],
        opens_more=opens[_MOST_RUNS:],
        counts={
            "closes": sum(day.closes for day in effects.days),
            "opens": sum(day.opens for day in effects.days),
            "renamed": sum(not day.closes and not day.opens for day in effects.days),
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
    """The days that close, or those that open, as runs with one reason."""
    runs: list[Run] = []
    for day in days:
        if not (day.closes if closed else day.opens):
            continue
        why = day.after if closed else day.before
        last = runs[-1] if runs else None
        if last is not None and last.to_on == day.on - _ONE_DAY and last.why == why:
            runs[-1] = Run(last.from_on, day.on, why)
        else:
            runs.append(Run(day.on, day.on, why))
    return runs
