"""What does a consultant need of a region? Who owes annual service, whose charts have gaps."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from notifications.digests.charts_to_print import print_lines
from notifications.digests.folding import fold, shown_items
from notifications.digests.follow_up import (
    action_lines,
    month_lines,
    place_words,
)
from notifications.digests.frame import (
    digest,
    empty,
    for_whom,
    listed,
    subject,
    weekly_period,
    where,
)
from notifications.digests.items import duty_item, gap_item, silent_item
from notifications.digests.ladder import step_section, steps
from notifications.digests.not_reached import away_section, not_reached_section
from notifications.digests.region_first import first_words
from notifications.digests.sections import ROWS, Line, Section, Tone, capped, some_of
from notifications.digests.words import (
    beside,
    counted,
    county,
    day,
    joined,
    title_of,
    when,
)
from notifications.facts import (
    GAP_DAYS,
    Chart,
    ChartToPrint,
    ConsultantFacts,
    Duty,
    OpenAction,
    SilentUnit,
    Standing,
    WaitingMonth,
)
from notifications.languages import tr, trn
from notifications.messages import Kind, Message, Skipped

__all__ = ["CountyView", "consultant"]

_WEEK = dt.timedelta(days=7)
Told = Duty | Chart | SilentUnit | OpenAction | WaitingMonth | ChartToPrint


@dataclass(frozen=True, slots=True)
class CountyView:
    """One county: its annual services, and in words what else there is; '' where nothing is."""

    name: str
    overdue: int
    longest: str
    due: int
    other: str


def consultant(facts: ConsultantFacts, base_url: str = "") -> Message | Skipped:
    """One digest for the regions of a consultant, or why there is none.

    Nothing to do means: no annual service overdue or due, nothing else overdue, no gap, no silent
    unit, no month to review, no corrective action open and no chart to print. A silent unit's gaps
    are told there and not again among the charts, which are then called the other ones.
    """
    on = facts.on
    region = listed(facts.regions, "region") if facts.regions else tr("All regions")
    overdue, due, other = _overdue(facts), _due(facts), _other(facts)
    charts = _charts(facts)
    counties, well = _counties(facts, charts)
    news = _news(facts, len(overdue), len(due), len(charts), len(other))
    short = counted(len(facts.regions), "region") if len(facts.regions) > 1 else region
    fresh, as_before = fold(_sections(facts, base_url), facts.told)
    sections = tuple(capped(fresh))
    context = {
        "title": tr("{whose}: week of {day}", whose=region, day=day(on)),
        "whose": region,
        "subject": subject(region, short, news) if news else "",
        "first": first_words(facts, overdue, due, charts, has_other=bool(other)),
        "counties": tuple(counties[:ROWS]),
        "counties_more": max(0, len(counties) - ROWS),
        "well": _well(facts, counties, well),
        "stand_in": for_whom(facts.stand_in),
        "sections": sections,
        "as_before": as_before,
        "where": where(base_url, "due", on, {"--region": facts.regions}),
    }
    if news:
        items, period = shown_items(sections, as_before), weekly_period(on)
        return digest(Kind.CONSULTANT, facts.reader, period, _who(facts, region), context, items)
    return empty(Kind.CONSULTANT, facts.reader, on, _who(facts, region), context)


def _who(facts: ConsultantFacts, region: str) -> str:
    if not facts.regions:
        return tr("You get this because you are the consultant for all regions.")
    return tr("You get this because you are the consultant for {region}.", region=region)


def _overdue(facts: ConsultantFacts) -> list[Duty]:
    """Annual services overdue, the longest first."""
    late = [d for d in facts.duties if d.is_annual_service and d.standing is Standing.OVERDUE]
    return sorted(late, key=lambda duty: (-duty.days_past_due, duty.property_number, duty.task))


def _due(facts: ConsultantFacts) -> list[Duty]:
    """Annual services that are due and not overdue, the earliest first."""
    due = [d for d in facts.duties if d.is_annual_service and d.standing is Standing.DUE]
    return sorted(due, key=lambda duty: (duty.due_on, duty.property_number, duty.task))


def _other(facts: ConsultantFacts) -> list[Duty]:
    """What else is overdue, the longest first."""
    late = [d for d in facts.duties if not d.is_annual_service and d.standing is Standing.OVERDUE]
    return sorted(late, key=lambda duty: (-duty.days_past_due, duty.property_number, duty.task))


def _charts(facts: ConsultantFacts) -> list[Chart]:
    """Charts with gaps, those of silent units left out."""
    silent = {unit.property_number for unit in facts.silent}
    return [
        chart
        for chart in facts.charts
        if (chart.gaps or chart.missed) and chart.property_number not in silent
    ]


def _news(facts: ConsultantFacts, overdue: int, due: int, gaps: int, other: int) -> list[str]:
    """What there is, in a few words each; other work, and charts to print, only where no more
    pressing is.
    """
    told = [counted(overdue, "annual service overdue", "annual services overdue")]
    told = told if overdue else []
    if due and overdue:
        told.append(trn("{count} due", "{count} due", due))
    elif due:
        told.append(counted(due, "annual service due", "annual services due"))
    told += _besides(len(facts.silent), gaps, 0)
    told = told or ([counted(other, "task overdue", "tasks overdue")] if other else [])
    told += _begun(len(facts.months), len(facts.actions))
    to_print = len(facts.to_print)
    return told or ([counted(to_print, "chart to print", "charts to print")] if to_print else [])


def _besides(silent: int, gaps: int, other: int) -> list[str]:
    """What there is besides annual service, in a few words each."""
    told = [counted(silent, "silent unit")] if silent else []
    if gaps and silent:
        told.append(counted(gaps, "other chart with gaps", "other charts with gaps"))
    elif gaps:
        told.append(counted(gaps, "chart with gaps", "charts with gaps"))
    more = counted(other, "other task overdue", "other tasks overdue")
    return [*told, more] if other else told


def _begun(months: int, actions: int) -> list[str]:
    """What waits to be reviewed and closed, in a few words each."""
    told = [counted(months, "month to review", "months to review")] if months else []
    return told + ([counted(actions, "corrective action")] if actions else [])


def _counties(facts: ConsultantFacts, charts: Sequence[Chart]) -> tuple[list[CountyView], int]:
    """Counties with anything to tell but months and prints, the one that waits longest first; how
    many have nothing.
    """
    overdue, due, other = _overdue(facts), _due(facts), _other(facts)
    longest: dict[str, int] = {}
    for duty in reversed(overdue):
        longest[duty.place.county] = duty.days_past_due
    late, soon, more = (_by_county(duties) for duties in (overdue, due, other))
    gaps, silent = _by_county(charts), _by_county(facts.silent)
    actions = _by_county(facts.actions)
    names = sorted(
        {name for some in (late, soon, more, gaps, silent, actions) for name in some},
        key=lambda n: (-longest.get(n, 0), -silent[n], -gaps[n], -soon[n], n),
    )
    views = [
        CountyView(
            name=county(name),
            overdue=late[name],
            longest=counted(longest.get(name, 0), "day"),
            due=soon[name],
            other=", ".join(
                _besides(silent[name], gaps[name], more[name]) + _begun(0, actions[name])
            ),
        )
        for name in names
    ]
    known = _by_county(facts.duties).keys() | _by_county(facts.charts).keys()
    return views, len(known - set(names))


def _well(facts: ConsultantFacts, counties: Sequence[CountyView], well: int) -> str:
    """How many counties have nothing to tell; months and prints have their sections alone."""
    if not well:
        return ""
    told = {view.name for view in counties}
    waiting: dict[str, Sequence[Told]] = {
        tr("months to review"): facts.months,
        tr("charts to print"): facts.to_print,
    }
    but = [
        words
        for words, some in waiting.items()
        if any(county(one.place.county) not in told for one in some)
    ]
    words = counted(well, "other county", "other counties")
    return tr("{counties}, but for {what}", counties=words, what=joined(but)) if but else words


def _by_county(some: Sequence[Told]) -> Counter[str]:
    return Counter(one.place.county for one in some)


def _place(one: Told) -> str:
    return place_words(one.place)


def _sections(facts: ConsultantFacts, base_url: str) -> list[Section]:
    """All sections, the most urgent first, also the empty ones."""
    on, regions = facts.on, {"--region": facts.regions}
    since = on - dt.timedelta(days=GAP_DAYS)
    rows = where(base_url, "due", on, regions)
    late = where(base_url, "due", on, {**regions, "--status": ["overdue"]})
    gaps = where(base_url, "gaps", on, {**regions, "--from": [f"{since}"], "--to": [f"{on}"]})
    overdue = _service_lines(_overdue(facts), facts, Tone.LATE)
    due = _service_lines(_due(facts), facts, Tone.SOON)
    other = _service_lines(_other(facts), facts, Tone.LATE)
    silence = tr("In service, and nobody has reported on them for three weeks or more")
    charts = tr("Other charts with gaps") if facts.silent else tr("Charts with gaps")
    by_site = tr("The last four weeks, by site, the most gaps first")
    told = tr("The site lead has been told; the longest overdue first")
    begun = tr("What was found, and not closed yet; a review that is overdue first")
    actions = action_lines(facts.actions, on, names_site=True)
    return [
        *_pressing(facts, late),
        _section(tr("Annual service overdue"), tr("The longest overdue first"), late, overdue),
        _section(tr("Silent units"), silence, gaps, _silent_lines(facts.silent)),
        _section(
            tr("Corrective actions open"),
            begun,
            where(base_url, "actions", on, regions),
            actions,
        ),
        _section(charts, by_site, gaps, _chart_lines(_charts(facts)), tr("Site")),
        *_on_paper(facts, base_url),
        _section(tr("Annual service due"), tr("The earliest first"), rows, due),
        _section(tr("Other work overdue"), told, late, other),
    ]


def _pressing(facts: ConsultantFacts, late: str) -> list[Section]:
    """What the mail itself has brought about: what was lost, who is away, whose step it is."""
    step = steps(facts.duties, facts.ladder, facts.on, is_manager=False)
    return [
        not_reached_section(facts.not_reached),
        away_section(facts.away),
        step_section(step, facts.ladder, facts.on, late, is_manager=False),
    ]


def _on_paper(facts: ConsultantFacts, base_url: str) -> list[Section]:
    """What there is to do with charts on paper: months to review, charts to print."""
    on, regions = facts.on, {"--region": facts.regions}
    command = where("", "reviews", on, regions)
    return [
        _section(
            tr("Months to review"),
            tr(
                "The oldest first; how each stands, and how to sign it: {command}",
                command=f"{command} --open",
            ),
            where(base_url, "reviews", on, regions),
            month_lines(facts.months),
            tr("Site"),
        ),
        _section(
            tr("Charts to print"),
            tr("Not printed yet, or out of date on paper"),
            where(base_url, "chart --status", on, regions),
            print_lines(facts.to_print, facts.regions),
        ),
    ]


def _section(
    title: str, caption: str, all_at: str, lines: Sequence[Line], first: str = ""
) -> Section:
    columns = (first or tr("Unit and site"), tr("How it stands"))
    return Section(title=title, caption=caption, columns=columns, lines=tuple(lines), where=all_at)


def _service_lines(duties: Sequence[Duty], facts: ConsultantFacts, tone: Tone) -> list[Line]:
    """A line a duty; what is the reader's own step is told there and not again."""
    own = {
        (duty.property_number, duty.task)
        for duty in steps(facts.duties, facts.ladder, facts.on, is_manager=False)
    }
    return [
        _service_line(duty, facts, tone)
        for duty in duties
        if (duty.property_number, duty.task) not in own
    ]


def _service_line(duty: Duty, facts: ConsultantFacts, tone: Tone) -> Line:
    on = facts.on
    what = duty.kind if duty.is_annual_service else f"{duty.kind}, {title_of(duty)}"
    is_new = duty.limit_on >= on - _WEEK if tone is Tone.LATE else duty.opens_on > on - _WEEK
    about, how = f"{what}: {_place(duty)}", when(duty, on)
    line = Line(duty.property_number, about, how, tone, is_new, beside(duty, on))
    return replace(line, items=(duty_item(duty, on, facts.ladder),))


def _silent_lines(units: Sequence[SilentUnit]) -> list[Line]:
    """One line a unit, the sites with most of them first."""
    at_site = Counter(unit.place.site for unit in units)
    ordered = sorted(units, key=lambda u: (-at_site[u.place.site], u.place.site, u.property_number))
    return [
        Line(
            unit.property_number,
            f"{unit.kind}: {_place(unit)}",
            counted(unit.gaps, "mark missing", "marks missing"),
            Tone.LATE,
            beside=_silence(unit),
            items=(silent_item(unit),),
        )
        for unit in ordered
    ]


def _silence(unit: SilentUnit) -> str:
    """When it was last marked as done, beside the number of gaps."""
    if unit.last_done_on is None:
        return tr("never done on record")
    return tr("last done {day}", day=day(unit.last_done_on))


def _chart_lines(charts: Sequence[Chart]) -> list[Line]:
    """One line a site: how many gaps, on which units."""
    by_site: dict[str, list[Chart]] = defaultdict(list)
    for chart in charts:
        by_site[chart.place.site].append(chart)
    ordered = sorted(by_site.values(), key=lambda some: (-_missing(some), some[0].place.site))
    lines = []
    for some in ordered:
        units = list(dict.fromkeys(chart.property_number for chart in some))
        words, place = counted(_missing(some), "mark missing", "marks missing"), some[0].place
        on_units = tr("on {units}", units=some_of(units))
        about = county(place.county)
        line = Line(place.name, about, words, Tone.LATE, beside=on_units, count=len(some))
        lines.append(replace(line, items=tuple(map(gap_item, some))))
    return lines


def _missing(charts: Sequence[Chart]) -> int:
    """Gaps in the window; a chart whose last gap is older counts the run it stands in."""
    return sum(len(chart.gaps) or chart.missed for chart in charts)
