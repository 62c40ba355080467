"""What might a mail of each kind say? Invented examples, to try templates on before use."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping

from notifications import digests
from notifications.event_facts import (
    Change,
    GapsFacts,
    NewChart,
    NewChartsFacts,
    NewsFacts,
    SiteCharts,
    VisitFacts,
    VisitTask,
)
from notifications.facts import (
    Chart,
    ConsultantFacts,
    Duty,
    ManagerFacts,
    MonthGaps,
    Period,
    Place,
    Reader,
    SiteFacts,
    SiteLeadFacts,
    StandIn,
    Standing,
    UnitArrived,
)
from notifications.messages import Kind, Message, Skipped
from schedules.rules import Each

__all__ = ["CAUTION", "NAMES", "ROWS", "examples"]

CAUTION = "Unplug it first."
NAMES = ("Alder Creek", 'R&D <b>"O\'Hara"</b> \u05e9\u05dc\u05d5\u05dd \U0001f52c ' + "x" * 120)
ROWS = (0, 1, 60)
_LINK = "https://pages.example/l/" + "x" * 43
_ON, _DAY = dt.date(2026, 12, 7), dt.timedelta(days=1)
_AWAY = (StandIn("Robin Vell", _ON + 4 * _DAY),)


def examples(language: str) -> Iterator[Message]:
    """Messages of every kind, with no, one and many rows, plain and hostile names."""
    for name in NAMES:
        place = Place(site="alder", name=name, county="Adams", region="Platte")
        for rows in ROWS:
            for make in _kinds(place, rows, _reader(language, name)).values():
                made = make()
                if isinstance(made, Message):
                    yield made


def _reader(language: str, name: str) -> Reader:
    at = dt.datetime.combine(_ON, dt.time(7), dt.UTC)
    return Reader(email="reader@lab.example", name=name, dated_at=at, language=language)


def _kinds(
    place: Place, rows: int, reader: Reader
) -> Mapping[Kind, Callable[[], Message | Skipped]]:
    duties = tuple(_duty(place, number) for number in range(rows))
    charts = tuple(_chart(place, number) for number in range(rows))
    site = SiteFacts(place=place, duties=duties, charts=charts)
    month = MonthGaps(place=place, first_on=dt.date(2026, 11, 1), charts=charts, to_return=rows + 1)
    news = tuple(_arrival(place, number) for number in range(rows))
    paper = SiteCharts(place=place, charts=tuple(map(_paper, range(rows))), file="charts.pdf")
    lead = SiteLeadFacts(reader=reader, on=_ON, sites=(site,), stand_in=_AWAY)
    region = ConsultantFacts(
        reader=reader, on=_ON, regions=("Platte",), duties=duties, charts=charts, silent=()
    )
    state = ManagerFacts(
        reader=reader, on=_ON, regions=(), services=duties, root="0123456789abcdef" * 4, root_on=_ON
    )
    return {
        Kind.SITE_LEAD: lambda: digests.site_lead(lead),
        Kind.CONSULTANT: lambda: digests.consultant(region),
        Kind.MANAGER: lambda: digests.manager(state),
        Kind.GAPS: lambda: digests.gaps(GapsFacts(reader=reader, on=_ON, sites=(month,))),
        Kind.NEW_CHARTS: lambda: digests.new_charts(
            NewChartsFacts(reader=reader, on=_ON, year=2027, sites=(paper,))
        ),
        Kind.NEWS: lambda: digests.news(NewsFacts(reader=reader, on=_ON, news=news)),
        Kind.VISIT: lambda: digests.visit(_visit(place, rows, reader)),
        Kind.NEW_PASSWORD: lambda: digests.new_password(reader, str(rows), _LINK),
    }


def _duty(place: Place, number: int) -> Duty:
    due_on = _ON - (number + 20) * _DAY
    return Duty(
        place=place,
        property_number=f"NE-{number}",
        kind="Bench microscope",
        task="annual-service",
        title="Service by the vendor",
        standing=Standing.OVERDUE,
        opens_on=due_on - 45 * _DAY,
        due_on=due_on,
        limit_on=due_on + 15 * _DAY,
        days_past_due=number + 20,
        is_annual_service=True,
        cautions=(CAUTION,),
    )


def _chart(place: Place, number: int) -> Chart:
    return Chart(
        place=place,
        property_number=f"NE-{number}",
        kind="Bench microscope",
        task="optics",
        title="Clean the optics",
        each=Each.OPEN_DAY,
        standing=Standing.DUE,
        opens_on=_ON,
        closes_on=_ON,
        missed=1,
        gaps=(Period(from_on=_ON - 10 * _DAY, to_on=_ON - 10 * _DAY),),
        cautions=(CAUTION,),
    )


def _arrival(place: Place, number: int) -> UnitArrived:
    return UnitArrived(
        place=place, property_number=f"NE-{number}", kind="Bench microscope", from_on=_ON
    )


def _paper(number: int) -> NewChart:
    return NewChart(property_number=f"NE-{number}", kind="Bench microscope", pages=4)


def _visit(place: Place, rows: int, reader: Reader) -> VisitFacts:
    tasks = tuple(
        VisitTask(
            property_number=f"NE-{number}",
            kind="Bench microscope",
            task="annual-service",
            title="Service by the vendor",
            cautions=(CAUTION,),
        )
        for number in range(rows)
    )
    return VisitFacts(
        reader=reader,
        on=_ON,
        period="9c1f/1",
        change=Change.MOVED,
        place=place,
        vendor="Lensworth Service",
        visit_on=_ON + 3 * _DAY,
        from_at=dt.time(9),
        was_on=_ON + 2 * _DAY,
        tasks=tasks,
        stand_in=_AWAY,
    )
