"""What does one site owe, lack and await: the page of its lead, and of those who look after it?"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from flask import redirect, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.answers import FindingRow
from fleet.domain.records import Entry, Mark, Role, Site
from fleet.domain.visits import UnsuitableDays
from fleet.errors import BadInput, Fault
from fleet.services.columns import book_of
from fleet.services.mailing.next_visits import next_visits
from fleet.services.mark import mark
from fleet.services.ports import Record
from fleet.services.reviews import review
from fleet.services.standing import site_of
from fleet.services.why import unit_of
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_day
from fleet.web.routes import Pages
from fleet.web.who import LEADS, OVERSEERS
from notifications.facts import Chart, Standing

__all__ = ["PAGES"]

PAGES = Pages()

_NAMES: Final = uuid.UUID("6f1c1a54-9a43-5a53-8a0e-5b2c7d1f0d12")
_MOST_AT_ONCE: Final = 400
_MOST_SHOWN: Final = 200
"""Cells to explain at once; a page of thousands is slow, and nobody ticks them."""


@dataclass(frozen=True, slots=True)
class GapGroup:
    """The gaps of one unit and task, the earliest first."""

    property_number: str
    task: str
    title: str
    gaps: Sequence[FindingRow]


@PAGES.get("/sites/<site>", who=LEADS)
def site(site: str) -> ResponseReturnValue:
    """The site's page."""
    asking = asked()
    with asking.read() as record:
        facts = _facts(asking, record, site)
    return asking.page("site.html", **facts)


def _facts(asking: Asked, record: Record, name: str) -> dict[str, object]:
    register = record.register()
    place = asking.site(register, name, *LEADS)
    view = asking.web.board.view(record, asking.now)
    seen = asking.web.overviews.of(record, view, place, asking.now)
    gap_groups = _grouped(record, seen.gaps)
    shown = _first(gap_groups)
    duties = sorted(seen.duties, key=lambda duty: (duty.limit_on, duty.property_number))
    access = record.access
    return {
        "site": place,
        "seen": seen,
        "overdue": [duty for duty in duties if duty.standing is Standing.OVERDUE],
        "due": [duty for duty in duties if duty.standing is Standing.DUE],
        "open_today": _open_today(seen.charts),
        "gap_groups": shown,
        "more_gaps": len(seen.gaps) - sum(len(group.gaps) for group in shown),
        "next_visit": next_visits(register, seen.on).get(name),
        "devices": access.devices_at(name),
        "people": access.bench_people(name),
        "may_issue": name in asking.visitor.sites(*OVERSEERS),
        "may_enrol": name in asking.visitor.sites(Role.SITE_LEAD, Role.CONSULTANT),
        "years": (seen.on.year, seen.on.year + 1),
    }


def _open_today(charts: Sequence[Chart]) -> int:
    """How many cells can be marked today and are not."""
    is_open = (Standing.DUE, Standing.OVERDUE)
    return sum(chart.standing in is_open and chart.opens_on is not None for chart in charts)


def _grouped(record: Record, gaps: Sequence[FindingRow]) -> list[GapGroup]:
    book, units = book_of(record.register()), record.register().units
    groups: dict[tuple[str, str], list[FindingRow]] = defaultdict(list)
    for row in gaps:
        groups[row.property_number, row.task].append(row)
    made = []
    for (number, task), some in sorted(groups.items()):
        unit = units[(number,)]
        versions = book.kinds[unit.kind].tasks(unit.model).get(task, ())
        title = versions[0].title if versions else task
        made.append(GapGroup(number, task, title, sorted(some, key=_closes)))
    return made


def _first(groups: Sequence[GapGroup]) -> list[GapGroup]:
    """The first groups, whole, with as many cells as a page shows; one group at least."""
    made: list[GapGroup] = []
    cells = 0
    for group in groups:
        cells += len(group.gaps)
        if made and cells > _MOST_SHOWN:
            break
        made.append(group)
    return made


def _closes(row: FindingRow) -> dt.date:
    return row.closes or dt.date.min


@PAGES.post("/sites/<site>/explain", who=LEADS)
def explain(site: str) -> ResponseReturnValue:
    """Say why cells of the past have no mark; each gets an entry with the reason."""
    asking = asked()
    chosen, why = asking.fields("gap"), asking.field("why")
    faults = _explain_faults(chosen, why)
    with asking.write() as record:
        asking.site(record.register(), site, *LEADS)
        if faults:
            facts = _facts(asking, record, site)
            return asking.form_again("site.html", faults, why=why, chosen=chosen, **facts)
        for name in chosen:
            _explain_one(asking, record, site, name, why)
        record.commit()
    return redirect(url_for("sites.site", site=site, done=f"explained-{len(chosen)}") + "#gaps")


def _explain_faults(chosen: Sequence[str], why: str) -> list[Fault]:
    faults = []
    if not chosen:
        faults.append(Fault("gaps", None, "gap", "no gap is chosen", "tick those you can explain"))
    if len(chosen) > _MOST_AT_ONCE:
        problem = f"more than {_MOST_AT_ONCE} gaps are chosen"
        faults.append(Fault("gaps", None, "gap", problem, "explain them in several goes"))
    if not why:
        mend = "say what happened, as: closed for training; not used, forgotten"
        faults.append(Fault("gaps", None, "why", "no reason is given", mend))
    return faults


def _explain_one(asking: Asked, record: Record, site: str, name: str, why: str) -> None:
    """Write one explanation; name: 'unit/task/day the cell closed', as the page gave it."""
    number, task, day = (*name.rsplit("/", 2), "", "")[:3]
    unit, on = unit_of(record.register(), number), one_day("gap", day)
    if site_of(record.register(), unit, on) != site:
        problem = f"{number} did not stand here on {on}"
        raise BadInput([Fault("gaps", None, "gap", problem, "load the page again")])
    entry = Entry(
        key=str(uuid.uuid5(_NAMES, f"{asking.visitor.by}/{name}/{why}")),
        property_number=unit.property_number,
        task=task,
        on=on,
        mark=Mark.EXPLAINED,
        initials=_initials(asking),
        note=why,
    )
    mark(record, asking.public_holidays, entry, anyway=asking.is_meant, stamp=asking.stamp())


def _initials(asking: Asked) -> str:
    return "".join(word[0] for word in asking.visitor.name.split()[:3]).upper()


@PAGES.post("/sites/<site>/returned", who=LEADS)
def returned(site: str) -> ResponseReturnValue:
    """Note that a month's charts went back."""
    asking = asked()
    with asking.write() as record:
        place = asking.site(record.register(), site, *LEADS)
        on = one_day("on", asking.field("on"))
        review(
            record,
            asking.public_holidays,
            place.site,
            asking.field("month"),
            returned_on=on,
            anyway=asking.is_meant,
            stamp=asking.stamp(),
        )
        record.commit()
    return redirect(url_for("sites.site", site=site, done="returned") + "#months")


@PAGES.post("/sites/<site>/unsuitable", who=LEADS)
def unsuitable(site: str) -> ResponseReturnValue:
    """Note days on which the site is open but wants no vendor's visit."""
    from fleet.services.visits.grading import unsuitable as note_days

    asking = asked()
    try:
        from_on = one_day("from", asking.field("from"))
        to_on = one_day("to", asking.field("to") or asking.field("from"))
        with asking.write() as record:
            place: Site = asking.site(record.register(), site, *LEADS)
            days = UnsuitableDays(
                site=place.site, from_on=from_on, to_on=to_on, reason=asking.field("reason")
            )
            note_days(record, asking.public_holidays, days, asking.stamp())
            record.commit()
    except BadInput as error:
        with asking.read() as record:
            facts = _facts(asking, record, site)
        typed: Mapping[str, str] = {n: asking.field(n) for n in ("from", "to", "reason")}
        return asking.form_again("site.html", error.faults, typed=typed, **facts)
    return redirect(url_for("sites.site", site=site, done="unsuitable") + "#visit")
