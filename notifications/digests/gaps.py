"""What does a lead do on the first of a month? Look for blank cells, then return the charts."""

from __future__ import annotations

import shlex
from collections import defaultdict
from collections.abc import Iterable, Sequence

from notifications.addresses import one_line
from notifications.digests.folding import item
from notifications.digests.frame import for_whom, letter, listed, subject
from notifications.digests.page_addresses import page_address
from notifications.digests.sections import Line, Section, Tone, capped, grouped_units
from notifications.digests.words import counted, day, gap_words, month, title_of
from notifications.event_facts import GapsFacts
from notifications.facts import Chart, MonthGaps
from notifications.languages import tr, trn
from notifications.messages import Kind, Message, Skipped

__all__ = ["gap_section", "gaps", "return_words"]


def gaps(facts: GapsFacts, base_url: str = "") -> Message | Skipped:
    """One mail for all sites of a lead; none where no unit has a chart there."""
    sites = [site for site in facts.sites if site.to_return]
    if not sites:
        reason = "no unit has a chart at the sites of this lead"
        period = f"{facts.sites[0].first_on:%Y-%m}" if facts.sites else f"{facts.on:%Y-%m}"
        return Skipped(Kind.GAPS, facts.reader.email, period, reason)
    first_on = sites[0].first_on
    names = listed([site.place.name for site in sites], "site")
    blank = sum(len(chart.gaps) for site in sites for chart in site.charts)
    charts = sum(len(site.charts) for site in sites)
    context = {
        "title": tr("{names}: the charts of {month}", names=names, month=month(first_on)),
        "subject": subject(names, _short(sites, names), [_news(first_on_month(sites), blank)]),
        "first": _first(blank, charts, sites),
        "stand_in": for_whom(facts.stand_in),
        "paragraphs": tuple(return_words(site, names_site=len(sites) > 1) for site in sites),
        "sections": tuple(capped(gap_section(site, base_url) for site in sites)),
        "steps_title": tr("How to explain a blank cell"),
        "steps": (
            tr("Ask who worked that day whether it was done; if so, mark it as done."),
            tr("If it was not, mark the cell 'explained' and say why in the note."),
            tr("Do not fill a cell after the fact as if it had been done on its day."),
        ),
        "cautions": (),
    }
    reasons = (
        tr("You get this because you lead {names}.", names=names),
        tr("It comes on the first open day of a month, for the month that ended."),
    )
    return letter(
        Kind.GAPS, facts.reader, f"{first_on:%Y-%m}", reasons, context, dict(_items(sites))
    )


def _short(sites: Sequence[MonthGaps], names: str) -> str:
    return counted(len(sites), "site") if len(sites) > 1 else names


def first_on_month(sites: Iterable[MonthGaps]) -> str:
    """The month that ended, in words."""
    return month(next(iter(sites)).first_on)


def _news(ended: str, blank: int) -> str:
    if not blank:
        return tr("return the charts of {month}", month=ended)
    return trn(
        "{count} blank cell in {month}",
        "{count} blank cells in {month}",
        blank,
        month=ended,
    )


def _first(blank: int, charts: int, sites: Iterable[MonthGaps]) -> str:
    ended = first_on_month(sites)
    if not blank:
        return tr("No cell of {month} is blank. Return the charts.", month=ended)
    return trn(
        "{count} cell of {month} is blank, on {charts}. Explain it first, then return the charts.",
        "{count} cells of {month} are blank, on {charts}. Explain them first, then return the"
        " charts.",
        blank,
        month=ended,
        charts=counted(charts, "chart"),
    )


def return_words(site: MonthGaps, *, names_site: bool) -> str:
    """To whom the charts go, by when, and how many there are."""
    charts = trn("the chart of {count} unit", "the charts of {count} units", site.to_return)
    place = tr("{site}: ", site=site.place.name) if names_site else ""
    to = site.return_to or tr("your consultant")
    if site.return_by_on is None:
        return place + tr("Return {charts} to {to}.", charts=charts, to=to)
    by = day(site.return_by_on)
    return place + tr("Return {charts} to {to} by {day}.", charts=charts, to=to, day=by)


def gap_section(site: MonthGaps, base_url: str) -> Section:
    """The blank cells of one site, the most first; without a line where there is none."""
    alike: dict[tuple[str, str, str], list[Chart]] = defaultdict(list)
    for chart in site.charts:
        alike[gap_words(chart), chart.kind, title_of(chart)].append(chart)
    some = sorted(alike.values(), key=lambda one: (-len(one[0].gaps), one[0].property_number))
    last_on = max((gap.to_on for one in site.charts for gap in one.gaps), default=site.first_on)
    here = shlex.quote(one_line(site.place.site))
    command = f"dueward gaps --from {site.first_on} --to {last_on} --site {here}"
    return Section(
        title=tr("Blank cells at {site}", site=site.place.name),
        caption=tr("Mark what was done, or say why it was not; the most first"),
        columns=(tr("Unit and task"), tr("How it stands")),
        lines=tuple(_line(charts) for charts in some),
        where=page_address(base_url, "gaps", {"--site": [site.place.site]}) or command,
    )


def _line(charts: list[Chart]) -> Line:
    one = charts[0]
    return Line(
        head=grouped_units([chart.property_number for chart in charts]),
        about=f"{one.kind}: {title_of(one)}",
        when=gap_words(one),
        tone=Tone.LATE,
        count=len(charts),
    )


def _items(sites: Iterable[MonthGaps]) -> Iterable[tuple[str, str]]:
    for site in sites:
        for chart in site.charts:
            name = item("month-gap", chart.property_number, chart.task, f"{site.first_on:%Y-%m}")
            yield name, str(len(chart.gaps))
