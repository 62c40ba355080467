"""What does a site lead need on Monday morning? What is late, what is next, what is missing."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from notifications.digests.frame import digest, empty, listed, weekly_period, where
from notifications.digests.sections import Line, Section, Tone, capped, grouped_units
from notifications.digests.words import beside, day, gap_words, mark_by, stands, week_end, when
from notifications.facts import (
    GAP_DAYS,
    Chart,
    Duty,
    SiteFacts,
    SiteLeadFacts,
    Standing,
)
from notifications.messages import Kind, Message, Skipped
from schedules.rules import Each

__all__ = ["SiteView", "site_lead"]

_WEEK = dt.timedelta(days=7)
_USUAL = frozenset({Each.OPEN_DAY, Each.WEEK})
"""Cells that come so often that marking them is no news."""


@dataclass(frozen=True, slots=True)
class SiteView:
    """One site: its name, the next visit in a sentence ('' where none is known), its sections."""

    name: str
    visit: str
    sections: tuple[Section, ...]


def site_lead(facts: SiteLeadFacts, base_url: str = "") -> Message | Skipped:
    """One digest for all sites of a lead, or why there is none.

    Nothing to do means: nothing overdue, nothing due up to the end of next week, nothing that may
    be done already, no visit and no gap. The marks of every day and week alone are no news.
    """
    on, sites = facts.on, facts.sites
    names = listed([site.place.name for site in sites], "site")
    duties = [duty for site in sites for duty in site.duties]
    charts = [chart for site in sites for chart in site.charts]
    overdue, due = _overdue(duties), _due(duties, charts, on)
    context = {
        "title": f"{names}: week of {day(on)}",
        "whose": names,
        "overdue": len(overdue),
        "due": len(due),
        "gaps": len(_with_gaps(charts)),
        "until": day(week_end(on, 1)),
        "first": _first(overdue, due, charts, on, name_site=len(sites) > 1),
        "sites": _views(sites, on, base_url),
    }
    who = f"you lead {names}"
    has_visit = any(site.visit for site in sites)
    if overdue or due or has_visit or _with_gaps(charts) or _open(duties, on):
        return digest(Kind.SITE_LEAD, facts.reader, weekly_period(on), who, context)
    return empty(Kind.SITE_LEAD, facts.reader, on, who, context)


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
    overdue: Sequence[Duty],
    due: Sequence[Duty | Chart],
    charts: Iterable[Chart],
    on: dt.date,
    name_site: bool,
) -> str:
    """One sentence: what to do first."""

    def named(one: Duty | Chart) -> str:
        unit = f"{one.property_number} ({one.kind}): {one.title}"
        return f"{unit}, at {one.place.name}" if name_site else unit

    if overdue:
        return f"Start with {named(overdue[0])}. {stands(overdue[0], on)}."
    if due:
        return f"Nothing is overdue. Start with {named(due[0])}. {_how(due[0], on)}."
    gaps = _with_gaps(charts)
    if gaps:
        worst = max(gaps, key=lambda chart: (len(chart.gaps), chart.missed))
        return f"No service or check is late. Settle the gaps, first those of {named(worst)}."
    return "Nothing is overdue, and nothing is due this week or next."


def _views(sites: Sequence[SiteFacts], on: dt.date, base_url: str) -> tuple[SiteView, ...]:
    """The sites with their sections, cut together, so that what is overdue anywhere goes first."""
    planned = [
        (order, number, section)
        for number, site in enumerate(sites)
        for order, section in enumerate(_sections(site, on, base_url))
        if section.lines
    ]
    planned.sort(key=lambda entry: entry[:2])
    shown: dict[int, list[Section]] = defaultdict(list)
    cut = capped(section for _, _, section in planned)
    for (_, number, _), section in zip(planned, cut, strict=True):
        shown[number].append(section)
    return tuple(
        SiteView(site.place.name, _visit(site, on), tuple(shown[number]))
        for number, site in enumerate(sites)
    )


def _visit(site: SiteFacts, on: dt.date) -> str:
    if site.visit is None:
        return ""
    date = f"today, {day(on)}" if site.visit.on == on else day(site.visit.on)
    text = f"Next visit: {date}, {site.visit.vendor}"
    if not site.visit.property_numbers:
        return f"{text}."
    return f"{text}, for {grouped_units(site.visit.property_numbers)}."


def _sections(site: SiteFacts, on: dt.date, base_url: str) -> list[Section]:
    """Every section of a site, the most urgent first, also the empty ones."""
    here = {"--site": [site.place.site]}
    rows = where(base_url, "due", on, here)
    since = on - dt.timedelta(days=GAP_DAYS)
    gaps = where(base_url, "gaps", on, {**here, "--from": [f"{since}"], "--to": [f"{on}"]})

    def section(title: str, caption: str, lines: Sequence[Line], all_at: str = rows) -> Section:
        return Section(
            title=title,
            caption=caption,
            columns=("Unit and task", "How it stands"),
            lines=tuple(lines),
            where=all_at,
        )

    due, duties = _due(site.duties, site.charts, on), site.duties
    overdue = [_duty_line(d, on, Tone.LATE, d.limit_on >= on - _WEEK) for d in _overdue(duties)]
    may_do = [_duty_line(d, on, Tone.CALM, d.opens_on > on - _WEEK) for d in _open(duties, on)]
    return [
        section("Overdue", "The longest overdue first", overdue),
        section(
            "Due this week and next",
            "The earliest first",
            _due_lines(due, on),
        ),
        section(
            "Charts with gaps",
            "The last four weeks; mark what was done, or say why it was not",
            _gap_lines(site.charts),
            gaps,
        ),
        section("Can be booked or done now", "Due later; the earliest first", may_do),
        section("Charts to mark as usual", "Not marked yet", _usual_lines(site.charts, on)),
    ]


def _duty_line(duty: Duty, on: dt.date, tone: Tone, is_new: bool) -> Line:
    about, how = f"{duty.kind}: {duty.title}", when(duty, on)
    return Line(duty.property_number, about, how, tone, is_new, beside(duty, on))


def _due_lines(due: Iterable[Duty | Chart], on: dt.date) -> list[Line]:
    """One line a duty, and one for all units with the same cell to mark, the earliest first."""
    alike: dict[tuple[str, ...], list[Duty | Chart]] = defaultdict(list)
    for one in due:
        apart = one.property_number if isinstance(one, Duty) else ""
        alike[_how(one, on), one.kind, one.title, apart].append(one)
    lines = []
    for (how, kind, title, _), some in alike.items():
        other = beside(some[0], on) if isinstance(some[0], Duty) else ""
        about = f"{kind}: {title}"
        lines.append(Line(_units(some), about, how, Tone.SOON, beside=other, count=len(some)))
    return lines


def _gap_lines(charts: Iterable[Chart]) -> list[Line]:
    """One line for all units with the same gaps of the same task, the most gaps first."""
    alike: dict[tuple[str, str, str], list[Chart]] = defaultdict(list)
    for chart in _with_gaps(charts):
        alike[chart.kind, chart.title, gap_words(chart)].append(chart)
    found = sorted(
        alike.items(), key=lambda item: (-len(item[1][0].gaps), item[1][0].property_number)
    )
    return [
        Line(_units(some), f"{kind}: {title}", words, Tone.LATE, count=len(some))
        for (kind, title, words), some in found
    ]


def _units(some: Sequence[Duty | Chart]) -> str:
    return grouped_units([one.property_number for one in some])


def _usual_lines(charts: Iterable[Chart], on: dt.date) -> list[Line]:
    """One line for all units with the same task to mark by the same day, the earliest first."""
    alike: dict[tuple[dt.date, str, str], list[Chart]] = defaultdict(list)
    for chart in charts:
        if _to_mark(chart) and not _is_news(chart, on):
            alike[_due_on(chart), chart.kind, chart.title].append(chart)
    return [
        Line(_units(some), f"{kind}: {title}", mark_by(closes_on, on), Tone.CALM, count=len(some))
        for (closes_on, kind, title), some in sorted(alike.items(), key=lambda item: item[0])
    ]
