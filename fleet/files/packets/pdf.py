"""How does a site's evidence become one PDF? The cover, the contents, the charts, all sections."""

from __future__ import annotations

from collections import Counter

from fleet.files.packets.charts import draw_months
from fleet.files.packets.findings import after_charts
from fleet.files.packets.months import MonthCharts, chart_months
from fleet.files.packets.pages import PacketPages
from fleet.files.packets.sections import before_charts, check_page, instant
from fleet.services.packet_facts import PacketFacts

__all__ = ["packet_pdf"]

_SECTIONS = 18
"""Sections of the contents that are neither months nor actions; more would do no harm."""


def packet_pdf(facts: PacketFacts, pdf_name: str) -> tuple[bytes, int]:
    """The PDF's bytes and how many pages it has; the same bytes for the same facts."""
    site = facts.site
    title = f"Packet: {site.site} ({site.name}), {facts.from_on} to {facts.to_on}"
    foot = f"As known on {instant(facts.as_of)} · record root {facts.root}"
    pages = PacketPages(title, foot, facts.as_of)
    try:
        return _written(pages, facts, pdf_name)
    finally:
        pages.shut()


def _written(pages: PacketPages, facts: PacketFacts, pdf_name: str) -> tuple[bytes, int]:
    months = list(chart_months(facts))
    _cover(pages, facts)
    pages.contents(_SECTIONS + len(months) + len(facts.actions))
    before_charts(pages, facts)
    _charts(pages, facts, months)
    after_charts(pages, facts)
    check_page(pages, pdf_name, facts.root)
    _note_replaced(pages)
    count = pages.pages_count
    return bytes(pages.output()), count


def _cover(pages: PacketPages, facts: PacketFacts) -> None:
    site = facts.site
    pages.add_page()
    pages.set_y(pages.y + 8)
    pages.paragraph("Maintenance evidence of one site", 20, bold=True, gap=4)
    pages.paragraph(f"{site.name} ({site.site})", 14, bold=True, gap=1)
    place = f"{site.county} county, region {site.region}, {site.subdivision} {site.country}"
    pages.paragraph(f"{place}; time zone {site.time_zone}; open {site.open_days}", 10, gap=4)
    pages.paragraph(f"From {facts.from_on} to {facts.to_on}, both included", 14, bold=True, gap=4)
    for text in _cover_words(facts):
        pages.paragraph(text, 10, gap=2)


def _cover_words(facts: PacketFacts) -> list[str]:
    known = "as was asked" if facts.known_at else "the instant of the last line it rests on"
    counts = Counter(row.finding for row in facts.findings)
    found = ", ".join(f"{count:,} {name}" for name, count in sorted(counts.items())) or "none"
    open_actions = sum(one.action.closed_on is None for one in facts.actions)
    words = [
        f"Made by {facts.made_by} with Dueward, from the record as it was known on"
        f" {instant(facts.as_of)} ({known}). Gaps are judged as on {facts.on}.",
        f"Root of the record: {facts.root}",
        f"{len(facts.units):,} units were in service here; {len(facts.entries):,} entries speak of"
        f" them in the span. Findings: {found}. Corrective actions: {len(facts.actions):,},"
        f" {open_actions:,} of them open. Corrections: {len(facts.corrections):,}.",
        "Of a unit that stood at other sites too only the days here are told; at which sites it"
        " stood is in its history.",
        "The ZIP of the same name holds the same as tables, with every line of the record that it"
        " rests on, the attached files and what is needed to check them. The last section says how"
        " to check both with standard tools alone.",
        "What a rule asks for and warns of stands in the rule book of the site's program. It does"
        " not take the place of the manufacturer's manual, of the site's safety officer or of local"
        " rules.",
    ]
    return words + [f"No due date can be told: {failure}" for failure in facts.failures]


def _charts(pages: PacketPages, facts: PacketFacts, months: list[MonthCharts]) -> None:
    pages.new_page_section("Charts, month by month")
    pages.paragraph(
        "A row a unit and task, a column a day. Boxes across days are weekly, monthly and longer"
        " cells, and what is due by date. Each page has the legend at its foot."
    )
    if not months:
        pages.paragraph("No month of the span had a unit in service here: there are no charts.")
    draw_months(pages, months)


def _note_replaced(pages: PacketPages) -> None:
    if pages.replaced:
        pages.room(12)
        pages.set_y(189)
        pages.paragraph(
            f"{pages.replaced:,} characters of this PDF stand as '?', for its letters (DejaVu Sans"
            " Condensed) have no sign for them; the files of the ZIP hold them as they were"
            " written.",
            7.6,
        )
