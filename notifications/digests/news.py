"""What has happened that a site lead should know today? A unit came, a service report is in."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from notifications.addresses import one_line
from notifications.digests.follow_up import place_words
from notifications.digests.frame import for_whom, letter, listed, subject
from notifications.digests.sections import Line, Section, Tone, capped
from notifications.digests.words import counted, day, joined, title_of
from notifications.event_facts import NewsFacts
from notifications.facts import ReportIn, UnitArrived
from notifications.languages import spoken, tr, trn
from notifications.messages import Kind, Message, Skipped

__all__ = ["news", "news_items", "news_section"]


def news(facts: NewsFacts, base_url: str = "") -> Message | Skipped:
    """One mail for all that happened at a lead's sites; none where nothing did."""
    period = facts.on.isoformat()
    if not facts.news:
        return Skipped(Kind.NEWS, facts.reader.email, period, "nothing has happened")
    names = listed(list(dict.fromkeys(one.place.name for one in facts.news)), "site")
    arrived = [one for one in facts.news if isinstance(one, UnitArrived)]
    reports = len(facts.news) - len(arrived)
    told = [trn("{count} unit came", "{count} units came", len(arrived))] if arrived else []
    if reports:
        told.append(trn("{count} service report", "{count} service reports", reports))
    context = {
        "title": tr("{names}: news of {day}", names=names, day=day(facts.on)),
        "subject": subject(names, names, told),
        "first": _first(facts.news),
        "stand_in": for_whom(facts.stand_in),
        "paragraphs": (),
        "sections": tuple(capped([news_section(facts.news, base_url)])),
        "steps_title": "",
        "steps": (),
        "cautions": _cautions(arrived),
    }
    reasons = (
        tr("You get this because you lead {names}.", names=names),
        tr("It comes when a unit is moved to your site or a service report is in, once for each."),
    )
    return letter(Kind.NEWS, facts.reader, period, reasons, context, news_items(facts.news))


def news_items(some: Sequence[UnitArrived | ReportIn]) -> dict[str, str]:
    """What is told, by the names under which it is remembered."""
    return {
        f"arrived/{one.property_number}/{one.from_on}"
        if isinstance(one, UnitArrived)
        else f"report-in/{one.property_number}/{one.task}/{one.done_on}": "told"
        for one in some
    }


def news_section(some: Sequence[UnitArrived | ReportIn], base_url: str) -> Section:
    """What happened, a line each, units that came first; without a line where nothing did."""
    in_order = sorted(some, key=lambda one: (isinstance(one, ReportIn), one.property_number))
    return Section(
        title=tr("New at your site"),
        caption=tr("What happened since your last mail"),
        columns=(tr("Unit"), tr("What to do")),
        lines=tuple(_arrived(o) if isinstance(o, UnitArrived) else _report(o) for o in in_order),
        where=base_url or "dueward due",
    )


def _arrived(one: UnitArrived) -> Line:
    number, site = (shlex.quote(one_line(w)) for w in (one.property_number, one.place.site))
    origin = tr("from {site}", site=one.from_site) if one.from_site else tr("newly issued")
    tasks = (spoken() == "es" and one.tasks_es) or one.tasks
    when = tr("Hang its chart and mark from {day} on", day=day(one.from_on))
    return Line(
        head=one.property_number,
        about=tr(
            "{kind}: at {place}, {origin}",
            kind=one.kind,
            place=place_words(one.place),
            origin=origin,
        ),
        when=when,
        tone=Tone.SOON,
        is_new=True,
        beside=tr("to mark: {tasks}", tasks=joined(tasks)) if tasks else "",
        command=f"dueward chart {number} --site {site} --year {one.from_on.year}",
    )


def _report(one: ReportIn) -> Line:
    settles = tr("Settles the service of {day}", day=day(one.done_on))
    if one.due_on is None:
        beside = tr("no further one is due")
    elif one.opens_on is None:
        beside = tr("next due {day}", day=day(one.due_on))
    else:
        beside = tr(
            "next due {day}, may be done from {opens}", day=day(one.due_on), opens=day(one.opens_on)
        )
    by = title_of(one)
    by = tr("{title}, by {vendor}", title=by, vendor=one.vendor) if one.vendor else by
    return Line(
        head=one.property_number,
        about=f"{one.kind}: {by}" + (f". {one.remarks}" if one.remarks else ""),
        when=settles,
        tone=Tone.CALM,
        is_new=True,
        beside=beside,
    )


def _first(some: Sequence[UnitArrived | ReportIn]) -> str:
    arrived = [one for one in some if isinstance(one, UnitArrived)]
    if arrived:
        one = arrived[0]
        return tr(
            "Hang the chart of {number} ({kind}) beside it; it stands at your site since {day}.",
            number=one.property_number,
            kind=one.kind,
            day=day(one.from_on),
        )
    reports = counted(len(some), "service report")
    return tr("Nothing to do: {reports} came in. File what is on paper.", reports=reports)


def _cautions(arrived: Sequence[UnitArrived]) -> tuple[str, ...]:
    if not arrived:
        return ()
    return (
        tr(
            "Before a unit that was moved is used: let it reach room temperature, and check it as"
            " its manufacturer's manual and your local rules say."
        ),
    )
