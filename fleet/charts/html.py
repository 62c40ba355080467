"""How does a chart read for those who do not see the paper? As tables, every cell in words.

The page is one file: no script, nothing loaded, its style within. It follows WCAG 2.2 (W3C, 2023).
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from fleet.charts.codes import code_text
from fleet.charts.html_months import month_parts
from fleet.charts.words import fill_words, print_words, reissue_words, state_words, warnings
from fleet.services.charts.facts import DatedDuty, PrintedChart, YearChart

__all__ = ["chart_html", "index_html"]


def chart_html(one: PrintedChart) -> str:
    """The accessible twin of a printed chart, a whole HTML page."""
    chart, printed = one.chart, one.print
    cautions, defers = warnings(chart)
    return _page(
        "chart.html",
        chart=chart,
        print=printed,
        differs=one.differs,
        told=print_words(printed),
        codes=[
            code_text(printed.layout, printed.number, page) for page in range(1, printed.pages + 1)
        ],
        reissue=reissue_words(one),
        duties=[_duty(duty, chart) for duty in chart.dated],
        legend=fill_words(chart),
        months=month_parts(chart),
        cautions=cautions,
        defers=defers,
    )


def index_html(charts: Iterable[tuple[str, str]]) -> str:
    """A page that links to the charts of a folder; charts: the name and the address of each."""
    return _page("index.html", charts=list(charts))


def _duty(duty: DatedDuty, chart: YearChart) -> tuple[str, ...]:
    """A dated duty as cells of text: none is empty."""
    last = duty.last_done.isoformat() if duty.last_done else "never on record"
    dates = (duty.opens, duty.due, duty.limit)
    told = [on.isoformat() if on else "no date" for on in dates]
    return duty.rule.title, last, duty.done_by or "not told", *told, state_words(duty, chart)


def _page(template: str, **context: object) -> str:
    return _environment().get_template(template).render(context).strip() + "\n"


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("fleet.charts"),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
