"""How does a lead get the charts of a site as a PDF? Printed, and kept, as by the command."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from flask import Response
from flask.typing import ResponseReturnValue

from fleet.errors import BadInput, Fault
from fleet.services.charts.facts import PrintedChart
from fleet.services.charts.printing import (
    Means,
    ToPrint,
    keep_and_place,
    missing_prints,
    year_prints,
)
from fleet.services.charts.years import ChartQuestion
from fleet.services.ports import Record
from fleet.services.questions import Narrow, Question
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_count
from fleet.web.routes import Pages
from fleet.web.who import LEADS

__all__ = ["PAGES"]

PAGES = Pages()


class _InHand:
    """Files that need no names: they go with the answer."""

    def check(self) -> None:
        """Nothing stands in the way."""

    def place(self) -> None:
        """Nothing is to be named."""


@PAGES.post("/sites/<site>/charts", who=LEADS)
def charts(site: str) -> ResponseReturnValue:
    """Print charts: those that are missing, or all of a year."""
    asking, which = asked(), asked().field("which")
    with asking.read() as record:
        place = asking.site(record.register(), site, *LEADS)
        made = _made(asking, record, place.site, which)
    if not made.printed:
        mend = "; ".join([*made.failures, *made.passed_over]) or "every unit has its chart"
        raise BadInput([Fault("charts", None, None, "there is no chart to print", mend)])
    pdf = _drawn(made.printed, asking.now)
    keep_and_place(asking.store, made.printed, asking.stamp(), _InHand())
    headers = {"Content-Disposition": f'attachment; filename="charts-{_plain(site)}-{which}.pdf"'}
    return Response(pdf, mimetype="application/pdf", headers=headers)


def _made(asking: Asked, record: Record, site: str, which: str) -> ToPrint:
    means = asking.web.program.chart_means()
    narrow = Narrow(sites=(site,))
    if which == "missing":
        question = Question(now=asking.now, narrow=narrow)
        return missing_prints(record, question, (), None, means)
    this = asking.now.year
    year = one_count("which", which, this, this - 1, this + 1)
    return _of_year(record, year, narrow, asking.now, means)


def _of_year(record: Record, year: int, narrow: Narrow, now: dt.datetime, means: Means) -> ToPrint:
    return year_prints(record, ChartQuestion(year=year, now=now, narrow=narrow), means)


def _drawn(printed: Sequence[PrintedChart], made_at: dt.datetime) -> bytes:
    from fleet.charts.pdf import chart_pdf

    return chart_pdf(printed, "letter", made_at)


def _plain(name: str) -> str:
    """A site's name as part of a file's."""
    return "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in name)
