"""Charts made by hand, before any record: invented sites, makers and units."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from fleet.charts.layout import ChartLayout
from fleet.domain.prints import Print
from fleet.domain.records import Site, Unit
from fleet.services.charts.facts import (
    ChartRow,
    DatedDuty,
    Face,
    Note,
    PrintedChart,
    RowRole,
    YearChart,
)
from fleet.services.charts.periods import days_of_month
from schedules.rules import Each, Interval, Kind, ReadingRange, Rule

YEAR = 2027
MADE_AT = dt.datetime(2026, 11, 25, 15, 0, tzinfo=dt.UTC)
SITE = Site(
    site="ALDER",
    name="Alder Creek Family Health Laboratory",
    county="Marin",
    region="North",
    country="US",
    subdivision="CA",
    time_zone="America/Los_Angeles",
    open_days="Mon Tue Wed Thu Fri",
)
HOLIDAYS = {
    dt.date(2027, 1, 1): "New Year's Day",
    dt.date(2027, 5, 31): "Memorial Day",
    dt.date(2027, 7, 5): "Independence Day (observed)",
    dt.date(2027, 9, 6): "Labor Day",
    dt.date(2027, 11, 25): "Thanksgiving",
    dt.date(2027, 12, 24): "Christmas Day (observed)",
}
CLOSED = {dt.date(2027, 9, 20 + n): "flood in the lower rooms" for n in range(5)}
CAUTIONS = (
    "Unplug the lamp before any liquid comes near the instrument.",
    "Let the lamp cool for fifteen minutes before the cover goes on.",
    "Lens paper and lens cleaner made for optics only; never dry, never with breath.",
)


def rule(task: str, title: str, each: Each | None = Each.OPEN_DAY, **more: object) -> Rule:
    fields: dict[str, object] = {"each": each, **more}
    return Rule(kind="microscope", task=task, title=title, source="manual", **fields)  # type: ignore[arg-type]


def days_of(year: int) -> list[dt.date]:
    first = dt.date(year, 1, 1)
    return [first + dt.timedelta(n) for n in range((dt.date(year + 1, 1, 1) - first).days)]


def sign_of(on: dt.date) -> str:
    if on in HOLIDAYS:
        return "H"
    if on in CLOSED:
        return "C"
    return "W" if on.weekday() >= 5 else "."


def day_faces(year: int = YEAR, **signs: tuple[int, int]) -> tuple[Face, ...]:
    """Faces of a site's days; signs: a letter for days of the year from one to another."""
    faces = [sign_of(on) for on in days_of(year)]
    for sign, (first, last) in signs.items():
        faces[first - 1 : last] = sign * (last - first + 1)
    return tuple(Face(sign) for sign in faces)


def weeks(year: int = YEAR) -> int:
    return sum(on.weekday() == 3 for on in days_of(year))


def row(
    role: RowRole,
    title: str,
    faces: Sequence[Face],
    each: Each | None = None,
    version: Rule | None = None,
    turn: int = 1,
    times: int = 1,
) -> ChartRow:
    is_initials = role is RowRole.INITIALS
    versions = () if is_initials else (version or rule(title.lower(), title, each),)
    return ChartRow(
        role=role,
        task=title.lower(),
        title=title,
        each=each,
        turn=turn,
        times=times,
        versions=versions,
        faces=tuple(faces),
    )


def day_row(title: str, faces: Sequence[Face] | None = None, **more: object) -> ChartRow:
    return row(RowRole.DAY, title, faces or day_faces(), Each.OPEN_DAY, **more)  # type: ignore[arg-type]


def week_row(title: str, year: int = YEAR) -> ChartRow:
    return row(RowRole.WEEK, title, [Face(".")] * weeks(year), Each.WEEK)


def on_day_row(title: str) -> ChartRow:
    version = rule("adjust", title, None, every=Interval.parse("P1M"))
    return row(RowRole.ON_DAY, title, day_faces(), None, version)


def initials_row(faces: Sequence[Face] | None = None) -> ChartRow:
    return row(RowRole.INITIALS, "Initials", faces or day_faces())


def box_row(title: str, each: Each, faces: Sequence[Face] = ()) -> ChartRow:
    count = {Each.MONTH: 12, Each.QUARTER: 4, Each.HALF_YEAR: 2, Each.YEAR: 1}[each]
    return row(RowRole.BOX, title, faces or [Face(".")] * count, each)


def dated_row(duty: DatedDuty) -> ChartRow:
    return row(RowRole.DATED, duty.rule.title, (), None, duty.rule)


def unit(number: str = "MS-0412", **more: object) -> Unit:
    told = Unit(
        property_number=number,
        kind="microscope",
        manufacturer="Osprey Optical Works",
        model="Clearfield 40",
        serial="CF40-118273",
        site="ALDER",
        in_service_on=dt.date(2021, 3, 4),
    )
    return replace(told, **more)  # type: ignore[arg-type]


def notes() -> tuple[tuple[Note, ...], ...]:
    found: list[tuple[Note, ...]] = []
    for month in range(1, 13):
        own = [Note(on.day, on.day, "H", n) for on, n in HOLIDAYS.items() if on.month == month]
        if month == 9:
            own.append(Note(20, 24, "C", "flood in the lower rooms"))
        found.append(tuple(own))
    return tuple(found)


SERVICE = DatedDuty(
    rule=rule("service", "Annual service", None, every=Interval.parse("P12M"), vendor=True),
    last_done=dt.date(2026, 5, 4),
    done_by="Harbor Instrument Care",
    opens=dt.date(2027, 4, 4),
    due=dt.date(2027, 5, 4),
    limit=dt.date(2027, 6, 3),
    state="scheduled",
)


def year_chart(rows: Sequence[ChartRow], name: str = "Microscope", **more: object) -> YearChart:
    told = YearChart(
        unit=unit(),
        kind=Kind("microscope", name, ()),
        site=SITE,
        year=YEAR,
        on=dt.date(2026, 11, 25),
        days="".join(face.sign for face in day_faces()),
        rows=tuple(rows),
        dated=(SERVICE,),
        notes=notes(),
        cautions=CAUTIONS,
    )
    whole = replace(told, **more)  # type: ignore[arg-type]
    return replace(whole, rows=(*whole.rows, *map(dated_row, whole.dated)))


def printed(chart: YearChart, number: str = "4K7Q09ZX", **more: object) -> PrintedChart:
    laid = ChartLayout().laid(chart)
    told = Print(
        number=number,
        property_number=chart.unit.property_number,
        site=chart.site.site,
        year=chart.year,
        printed_on=dt.date(2026, 11, 25),
        paper="letter",
        layout=ChartLayout.version,
        pages=laid.pages,
        geometry=laid.geometry,
        days=chart.days,
        rows="[]",
        cells="",
    )
    return PrintedChart(chart, replace(told, **more))  # type: ignore[arg-type]


def microscope() -> YearChart:
    """Two daily tasks, one for each week, a dated one, boxes of a month and of a quarter."""
    return year_chart(
        [
            day_row("Wipe the stage and the oil objective"),
            week_row("Clean the condenser and the field lens"),
            initials_row(),
            box_row("Clean the lamp housing", Each.MONTH),
            box_row("Check the phase rings", Each.QUARTER),
        ]
    )


def refrigerator() -> YearChart:
    """Twelve rows of days, the first two a temperature to be read twice a day."""
    limits = ReadingRange(Decimal("2.0"), Decimal("8.0"), "C")
    read = rule("read", "Read the temperature", range=limits, times=2)
    rows = [
        day_row("Read the temperature", version=read, turn=turn, times=2) for turn in (1, 2)
    ] + [day_row(f"Daily task number {n}, with a name of some length") for n in range(3, 12)]
    return year_chart(
        [*rows, initials_row(), box_row("Defrost", Each.HALF_YEAR), box_row("Seals", Each.YEAR)],
        "Refrigerator, 2 to 8 C",
    )


def twenty_tasks() -> YearChart:
    """Twenty rows with names of eighty characters."""
    name = "Inspect, wipe down and write up the reagent probe stations number {:02d} with a kit."
    assert len(name.format(1)) == 80
    rows = [day_row(name.format(n)) for n in range(1, 21)]
    return year_chart([*rows, initials_row(), *(box_row(f"Box {n}", Each.MONTH) for n in "ABCDE")])


def issued_in_may() -> YearChart:
    """In service from 10 May on; notes tell so."""
    faces = day_faces(N=(1, 129))
    told = [list(own) for own in notes()]
    for month in range(1, 5):
        told[month - 1] = [Note(1, days_of_month(YEAR, month), "N", "")]
    told[4].insert(0, Note(1, 9, "N", ""))
    rows = [day_row("Wipe the stage", faces), on_day_row("Adjust the balance"), initials_row(faces)]
    return year_chart(
        rows,
        unit=unit(in_service_on=dt.date(2027, 5, 10)),
        notes=tuple(tuple(own) for own in told),
        dated=(),
    )


def moved_and_marked() -> YearChart:
    """At another site from 1 September on; the record holds marks up to 14 April."""
    marks = list(day_faces(E=(244, 365)))
    names = list(marks)
    for turn in range(103):
        if marks[turn].sign == ".":
            kind = turn % 23
            sign = "u" if kind == 3 else "e" if kind == 9 else "f" if kind == 14 else "d"
            marks[turn] = Face("," if kind == 17 else sign, "✓")
            names[turn] = Face("," if kind == 17 else "d", ("JR", "MKO", "TA")[turn % 3])
    hours = [Face("d", "JR")] * 3 + [Face(".")] * 5 + [Face("E")] * 4
    rows = [
        day_row("Wipe the stage", marks),
        week_row("Clean the condenser"),
        initials_row(names),
        box_row("Lamp hours", Each.MONTH, hours),
    ]
    told = [list(own) for own in notes()]
    for month in range(9, 13):
        told[month - 1] = [Note(1, days_of_month(YEAR, month), "E", "BIRCH")]
    return year_chart(rows, on=dt.date(2027, 4, 14), notes=tuple(tuple(own) for own in told))


def data_logger() -> YearChart:
    """Nothing for a day or a week: boxes of half a year, duties by date."""
    check = replace(SERVICE, rule=replace(SERVICE.rule, title="Compare with a traceable probe"))
    return year_chart(
        [box_row("Change the battery", Each.HALF_YEAR)],
        "Temperature data logger",
        dated=(SERVICE, check, replace(SERVICE, due=None, state="never started", last_done=None)),
        notes=((),) * 12,
    )
