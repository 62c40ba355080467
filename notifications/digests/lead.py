"""What does a site lead need on Monday morning? What is late, what is next, what is missing."""

from __future__ import annotations

import datetime as dt
import shlex
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from notifications.addresses import one_line
from notifications.digests.folding import AsBefore, fold, shown_items, why_command
from notifications.digests.follow_up import LONG_OUT_DAYS, action_lines, long_out, outage_lines
from notifications.digests.frame import (
    digest,
    empty,
    for_whom,
    listed,
    subject,
    weekly_period,
    where,
)
from notifications.digests.gaps import gap_section, return_words
from notifications.digests.items import duty_item, gap_item
from notifications.digests.ladder import told_words
from notifications.digests.news import news_section
from notifications.digests.sections import Line, Section, Tone, capped, grouped_units
from notifications.digests.words import (
    beside,
    cautions_of,
    counted,
    day,
    gap_words,
    mark_by,
    stands,
    title_of,
    week_end,
    when,
)
from notifications.facts import (
    GAP_DAYS,
    Chart,
    Duty,
    Ladder,
    SiteFacts,
    SiteLeadFacts,
    Standing,
)
from notifications.languages import tr, trn
from notifications.messages import Kind, Message, Skipped
from schedules.rules import Each

__all__ = ["SiteView", "site_lead"]

_WEEK = dt.timedelta(days=7)
_USUAL = frozenset({Each.OPEN_DAY, Each.WEEK})
"""Cells that come so often that marking them is no news."""
_CAUTIONS_SHOWN = 2


@dataclass(frozen=True, slots=True)
class SiteView:
    """One site; `visit` and `returns` are sentences, of the next visit and of where the charts of
    the month that ended go, '' where nothing is to be said.
    """

    name: str
    visit: str
    sections: tuple[Section, ...]
    as_before: AsBefore | None = None
    returns: str = ""


def site_lead(facts: SiteLeadFacts, base_url: str = "") -> Message | Skipped:
    """One digest for all sites of a lead, or why there is none.

    Nothing to do means: nothing overdue, nothing due up to the end of next week, nothing that may
    be done already, no visit, no gap, no corrective action open and no unit out of service for
    long. The marks of every day and week alone are no news.
    """
    on, sites = facts.on, facts.sites
    names = listed([site.place.name for site in sites], "site")
    duties = [duty for site in sites for duty in site.duties]
    charts = [chart for site in sites for chart in site.charts]
    overdue, due = _overdue(duties), _due(duties, charts, on)
    news, views = _news(sites, len(overdue), len(due), on), _views(facts, base_url)
    short = counted(len(sites), "site") if len(sites) > 1 else names
    context = {
        "title": tr("{whose}: week of {day}", whose=names, day=day(on)),
        "whose": names,
        "subject": subject(names, short, news) if news else "",
        "first": _first(sites, overdue, due, on),
        "stand_in": for_whom(facts.stand_in),
        "sites": views,
    }
    who = tr("You get this because you lead {names}.", names=names)
    if news:
        items = {k: v for one in views for k, v in shown_items(one.sections, one.as_before).items()}
        period = weekly_period(on)
        return digest(Kind.SITE_LEAD, facts.reader, period, who, context, items)
    return empty(Kind.SITE_LEAD, facts.reader, on, who, context)


def _news(sites: Sequence[SiteFacts], overdue: int, due: int, on: dt.date) -> list[str]:
    """What there is, in a few words each, the most urgent first; none where there is nothing."""
    gaps = len(_with_gaps(chart for site in sites for chart in site.charts))
    can_do = len(_open((duty for site in sites for duty in site.duties), on))
    told = [trn("{count} overdue", "{count} overdue", overdue)] if overdue else []
    told += [trn("{count} due soon", "{count} due soon", due)] if due else []
    told += [counted(gaps, "chart with gaps", "charts with gaps")] if gaps else []
    actions = sum(len(site.actions) for site in sites)
    out = len(long_out((outage for site in sites for outage in site.outages), on))
    told += [counted(actions, "corrective action")] if actions else []
    told += [counted(out, "unit still out", "units still out")] if out else []
    told += [tr("a visit is coming")] if any(site.visit for site in sites) else []
    told += [tr("news")] if any(site.news for site in sites) else []
    if told or not can_do:
        return told
    return [
        trn("{count} can be booked or done now", "{count} can be booked or done now", can_do),
    ]


def _overdue(duties: Iterable[Duty]) -> list[Duty]:
    """Overdue duties, the longest first."""
    late = [duty for duty in duties if duty.standing is Standing.OVERDUE]
    return sorted(late, key=lambda duty: (-duty.days_past_due, duty.property_number, duty.task))


def _due(duties: Iterable[Duty], charts: Iterable[Chart], on: dt.date) -> list[Duty | Chart]:
    """What is due up to the end of next week, the earliest first: duties and rarer chart cells."""
    until_on = week_end(on, 1)
    waiting = (Standing.DUE, Standing.UPCOMING)
    found: list[Duty | Chart] = [
        duty for duty in duties if duty.standing in waiting and duty.due_on <= until_on
    ]
    found += [chart for chart in charts if _to_mark(chart) and _is_news(chart, on)]
    return sorted(found, key=lambda one: (_due_on(one), one.property_number, one.task))


def _open(duties: Iterable[Duty], on: dt.date) -> list[Duty]:
    """Duties that may be done already but are due later than next week."""
    until_on = week_end(on, 1)
    early = [d for d in duties if d.standing is Standing.DUE and d.due_on > until_on]
    return sorted(early, key=lambda duty: (duty.due_on, duty.property_number, duty.task))


def _with_gaps(charts: Iterable[Chart]) -> list[Chart]:
    return [chart for chart in charts if chart.gaps or chart.missed]


def _to_mark(chart: Chart) -> bool:
    """Say whether the chart has a cell today that waits for its mark."""
    opens_on, closes_on = chart.opens_on, chart.closes_on
    return chart.standing is Standing.DUE and opens_on is not None and closes_on is not None


def _is_news(chart: Chart, on: dt.date) -> bool:
    return chart.each not in _USUAL and _due_on(chart) <= week_end(on, 1)


def _due_on(one: Duty | Chart) -> dt.date:
    if isinstance(one, Duty):
        return one.due_on
    return one.closes_on or dt.date.max


def _how(one: Duty | Chart, on: dt.date) -> str:
    return when(one, on) if isinstance(one, Duty) else mark_by(_due_on(one), on)


def _first(
    sites: Sequence[SiteFacts], overdue: Sequence[Duty], due: Sequence[Duty | Chart], on: dt.date
) -> str:
    """One sentence: what to do first."""

    def named(one: Duty | Chart) -> str:
        unit = f"{one.property_number} ({one.kind}): {title_of(one)}"
        if len(sites) == 1:
            return unit
        return tr("{unit}, at {site}", unit=unit, site=one.place.name)

    if overdue:
        how = stands(overdue[0], on)
        return tr("Start with {unit}. {how}.", unit=named(overdue[0]), how=how)
    if due:
        how = _how(due[0], on)
        return tr("Nothing is overdue. Start with {unit}. {how}.", unit=named(due[0]), how=how)
    gaps = _with_gaps(chart for site in sites for chart in site.charts)
    if gaps:
        worst = max(gaps, key=lambda chart: (len(chart.gaps), chart.missed))
        return tr(
            "No service or check is late. Settle the gaps, first those of {unit}.",
            unit=named(worst),
        )
    if any(site.actions for site in sites):
        return tr("Nothing is overdue or due. Carry on with the corrective actions below.")
    return tr("Nothing is overdue, and nothing is due this week or next.")


def _views(facts: SiteLeadFacts, base_url: str) -> tuple[SiteView, ...]:
    """The sites with their sections, cut together, so that what is overdue anywhere goes first."""
    on, sites = facts.on, facts.sites
    folded = [fold(_sections(site, on, base_url, facts.ladder), facts.told) for site in sites]
    planned = [
        # Only now is it known which line stands above: one that is folded shows no caution.
        (order, number, replace(section, lines=tuple(_warned_once(section.lines))))
        for number, (sections, _) in enumerate(folded)
        for order, section in enumerate(sections)
        if section.lines
    ]
    planned.sort(key=lambda entry: entry[:2])
    shown: dict[int, list[Section]] = defaultdict(list)
    for (_, number, _), section in zip(planned, capped(one[2] for one in planned), strict=True):
        shown[number].append(section)
    return tuple(
        SiteView(
            site.place.name,
            _visit(site, on),
            tuple(shown[number]),
            folded[number][1],
            return_words(site.month_gaps, names_site=False) if site.month_gaps else "",
        )
        for number, site in enumerate(sites)
    )


def _visit(site: SiteFacts, on: dt.date) -> str:
    if site.visit is None:
        return ""
    date = day(site.visit.on)
    date = tr("today, {day}", day=date) if site.visit.on == on else date
    vendor = site.visit.vendor
    if not site.visit.property_numbers:
        return tr("Next visit: {day}, {vendor}.", day=date, vendor=vendor)
    units = grouped_units(site.visit.property_numbers)
    return tr("Next visit: {day}, {vendor}, for {units}.", day=date, vendor=vendor, units=units)


def _sections(site: SiteFacts, on: dt.date, base_url: str, ladder: Ladder | None) -> list[Section]:
    """Every section of a site, the most urgent first, also the empty ones."""
    here = {"--site": [site.place.site]}
    rows = where(base_url, "due", on, here)
    since = on - dt.timedelta(days=GAP_DAYS)
    gaps = where(base_url, "gaps", on, {**here, "--from": [f"{since}"], "--to": [f"{on}"]})

    def section(title: str, caption: str, lines: Sequence[Line], all_at: str = rows) -> Section:
        return Section(
            title=title,
            caption=caption,
            columns=(tr("Unit and task"), tr("How it stands")),
            lines=tuple(lines),
            where=all_at,
        )

    due, duties = _due(site.duties, site.charts, on), site.duties
    overdue, may_do = _dated_lines(duties, on, ladder)
    return [
        news_section(site.news, base_url),
        *([gap_section(site.month_gaps, base_url)] if site.month_gaps else []),
        section(tr("Overdue"), tr("The longest overdue first"), overdue),
        section(
            tr("Due this week and next"),
            tr("The earliest first"),
            _due_lines(due, on, ladder),
        ),
        section(
            tr("Charts with gaps"),
            tr("The last four weeks; mark what was done, or say why it was not"),
            _gap_lines(site.charts),
            gaps,
        ),
        *_begun(site, on, base_url),
        section(tr("Can be booked or done now"), tr("Due later; the earliest first"), may_do),
        section(tr("Charts to mark as usual"), tr("Not marked yet"), _usual_lines(site.charts, on)),
    ]


def _dated_lines(
    duties: Sequence[Duty], on: dt.date, ladder: Ladder | None
) -> tuple[list[Line], list[Line]]:
    """What is overdue, and what may be done now but is due later."""
    return (
        [_duty_line(d, on, ladder, Tone.LATE, d.limit_on >= on - _WEEK) for d in _overdue(duties)],
        [_duty_line(d, on, ladder, Tone.CALM, d.opens_on > on - _WEEK) for d in _open(duties, on)],
    )


def _begun(site: SiteFacts, on: dt.date, base_url: str) -> list[Section]:
    """What is begun at a site and not ended."""
    here = {"--site": [site.place.site]}
    known = where("", "actions", on, here)
    actions = action_lines(site.actions, on, names_site=False)
    return [
        Section(
            title=tr("Corrective actions open"),
            caption=tr("What was found and what to do about it; in full: {command}", command=known),
            columns=(tr("Unit and problem"), tr("How it stands")),
            lines=tuple(actions),
            where=where(base_url, "actions", on, here),
        ),
        Section(
            title=tr("Still out of service"),
            caption=tr(
                "For more than {days}; say when it is back ({back}), or that it will not come back"
                " ({retire})",
                days=counted(LONG_OUT_DAYS, "day"),
                back="dueward back",
                retire="dueward retire",
            ),
            columns=(tr("Unit and reason"), tr("How it stands")),
            lines=tuple(outage_lines(site.outages, on)),
            where=where(base_url, "due", on, {**here, "--status": ["out of service"]}),
        ),
    ]


def _duty_line(duty: Duty, on: dt.date, ladder: Ladder | None, tone: Tone, is_new: bool) -> Line:
    other = "; ".join(filter(None, (beside(duty, on), told_words(duty))))
    line = _shared([duty], when(duty, on), tone, other)
    name, standing = duty_item(duty, on, ladder)
    # That somebody else was told is news to the lead.
    told = ((name, f"{standing}, {len(duty.escalated)} told"),)
    return replace(line, is_new=is_new, items=told)


def _shared(some: Sequence[Duty | Chart], how: str, tone: Tone, other: str = "") -> Line:
    """One line for units of one kind with the same task and cautions."""
    one, cautions = some[0], cautions_of(some[0])
    rest = cautions[_CAUTIONS_SHOWN:]
    words = (shlex.quote(one_line(word)) for word in (one.property_number, one.task))
    return Line(
        head=grouped_units([each.property_number for each in some]),
        about=f"{one.kind}: {title_of(one)}",
        when=how,
        tone=tone,
        beside=other,
        count=len(some),
        caution=" ".join(f"{told.rstrip('.')}." for told in cautions[:_CAUTIONS_SHOWN]),
        other_cautions=" ".join(["dueward why", *words]) if rest else "",
        units=tuple(each.property_number for each in some),
        cautions_at=why_command(one.property_number, one.task) if cautions else "",
    )


def _warned_once(lines: Iterable[Line]) -> Iterator[Line]:
    """The same lines; what a line above says of the same task is not told again in full."""
    told: set[tuple[str, str]] = set()
    for line in lines:
        what = line.about, line.caution
        if line.caution and what in told:
            about = tr("{about}. Caution: as above for the same task.", about=line.about)
            yield replace(line, about=about, caution="", other_cautions="")
        else:
            yield line
        told.add(what)


def _due_lines(due: Iterable[Duty | Chart], on: dt.date, ladder: Ladder | None) -> list[Line]:
    """One line a duty, and one for all units with the same cell to mark, the earliest first."""
    alike: dict[tuple[str, ...], list[Duty | Chart]] = defaultdict(list)
    for one in due:
        apart = one.property_number if isinstance(one, Duty) else ""
        alike[_how(one, on), apart, *_task(one)].append(one)
    lines = []
    for (how, *_), some in alike.items():
        other = beside(some[0], on) if isinstance(some[0], Duty) else ""
        line = _shared(some, how, Tone.SOON, other)
        items = tuple(duty_item(one, on, ladder) for one in some if isinstance(one, Duty))
        lines.append(replace(line, items=items))
    return lines


def _task(one: Duty | Chart) -> tuple[str, ...]:
    """What units on one line have in common."""
    return one.kind, title_of(one), *cautions_of(one)


def _gap_lines(charts: Iterable[Chart]) -> list[Line]:
    """One line for all units with the same gaps of the same task, the most gaps first."""
    alike: dict[tuple[str, ...], list[Chart]] = defaultdict(list)
    for chart in _with_gaps(charts):
        alike[gap_words(chart), *_task(chart)].append(chart)
    found = sorted(alike.values(), key=lambda some: (-len(some[0].gaps), some[0].property_number))
    return [
        replace(_shared(some, gap_words(some[0]), Tone.LATE), items=tuple(map(gap_item, some)))
        for some in found
    ]


def _usual_lines(charts: Iterable[Chart], on: dt.date) -> list[Line]:
    """One line for all units with the same task to mark by the same day, the earliest first."""
    alike: dict[tuple[dt.date, tuple[str, ...]], list[Chart]] = defaultdict(list)
    for chart in charts:
        if _to_mark(chart) and not _is_news(chart, on):
            alike[_due_on(chart), _task(chart)].append(chart)
    return [
        _shared(some, mark_by(closes_on, on), Tone.CALM)
        for (closes_on, _), some in sorted(alike.items(), key=lambda item: item[0])
    ]
