"""What does a site lead do when the charts of the new year are ready? Print, hang, take down."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

from notifications.addresses import one_line
from notifications.digests.frame import for_whom, letter, listed, subject
from notifications.digests.page_addresses import page_address
from notifications.digests.sections import Line, Section, Tone, capped
from notifications.digests.words import counted
from notifications.event_facts import NewChartsFacts, SiteCharts
from notifications.languages import tr, trn
from notifications.messages import Kind, Message, Skipped

__all__ = ["new_charts"]


def new_charts(facts: NewChartsFacts, base_url: str = "") -> Message | Skipped:
    """One mail for all sites of a lead; none where no unit has a chart in that year."""
    year, sites = facts.year, facts.sites
    count = sum(len(site.charts) for site in sites)
    if not count:
        reason = f"no unit has a chart of {year} at the sites of this lead"
        return Skipped(Kind.NEW_CHARTS, facts.reader.email, str(year), reason)
    names = listed([site.place.name for site in sites], "site")
    short = counted(len(sites), "site") if len(sites) > 1 else names
    pages = sum(chart.pages for site in sites for chart in site.charts)
    attached = all(site.file for site in sites)
    told = trn("{count} new chart for {year}", "{count} new charts for {year}", count, year=year)
    context = {
        "title": tr("{names}: the charts of {year}", names=names, year=year),
        "subject": subject(names, short, [told]),
        "first": _first(count, pages, year, attached=attached),
        "stand_in": for_whom(facts.stand_in),
        "paragraphs": () if attached else tuple(_commands(facts)),
        "sections": tuple(capped(_section(site, base_url) for site in sites)),
        "steps_title": tr("What to do with them"),
        "steps": tuple(_steps(facts)),
        "cautions": (
            tr(
                "A chart names what can hurt in its tasks. It does not replace the manufacturer's"
                " manual, your safety officer or local rules."
            ),
        ),
    }
    reasons = (
        tr("You get this because you lead {names}.", names=names),
        tr("It comes once a year, when the charts of the next year are ready."),
    )
    return letter(Kind.NEW_CHARTS, facts.reader, str(year), reasons, context, _items(facts))


def _items(facts: NewChartsFacts) -> dict[str, str]:
    return {
        f"print/{chart.property_number}/{site.place.site}/{facts.year}": "ready"
        for site in facts.sites
        for chart in site.charts
    }


def _first(count: int, pages: int, year: int, *, attached: bool) -> str:
    sheets = counted(pages, "page")
    if attached:
        return trn(
            "Print the attached chart of {year} ({pages}) and hang it beside its unit by"
            " 1 January.",
            "Print the {count} attached charts of {year} ({pages}) and hang each beside its unit by"
            " 1 January.",
            count,
            year=year,
            pages=sheets,
        )
    return tr(
        "The charts of {year} ({pages}) are too large for a mail. Print them with the command"
        " below.",
        year=year,
        pages=sheets,
    )


def _commands(facts: NewChartsFacts) -> Iterator[str]:
    for site in facts.sites:
        name = shlex.quote(one_line(site.place.site))
        yield f"dueward chart --missing --site {name} --year {facts.year} --out charts"


def _steps(facts: NewChartsFacts) -> Iterator[str]:
    year = facts.year
    yield tr("Print at 100 % (actual size), on one side of white paper, in black.")
    yield tr("Check the property number on each chart against the label of its unit.")
    yield tr("Weekends, holidays and days without the unit are crossed out already: leave them.")
    yield tr("Keep the charts of {year} in use until 31 December.", year=year - 1)
    for site in facts.sites:
        to = site.return_to or tr("your consultant")
        yield tr(
            "Return the charts of {year} of {site} to {to} in January.",
            year=year - 1,
            site=site.place.name,
            to=to,
        )


def _section(site: SiteCharts, base_url: str) -> Section:
    name = shlex.quote(one_line(site.place.site))
    return Section(
        title=tr("Charts of {site}", site=site.place.name),
        caption=tr("In the file {file}", file=site.file) if site.file else tr("To be printed"),
        columns=(tr("Unit"), tr("Its chart")),
        lines=tuple(
            Line(
                head=chart.property_number,
                about=chart.kind,
                when=counted(chart.pages, "page"),
                tone=Tone.CALM,
                beside=tr("it has another one at {site}", site=chart.also_at)
                if chart.also_at
                else "",
            )
            for chart in site.charts
        ),
        where=page_address(base_url, "chart --status", {"--site": [site.place.site]})
        or f"dueward chart --status --site {name}",
    )
