"""Which charts are there to be filled: random ones, as PDF pages with the place of every open cell.

Invented units and duties; rows of 5.0 to 8.1 mm, letter and A4, with days before issue, holidays
and marks that the record held already.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from random import Random

import pypdfium2

from fleet.charts.geometry import origin
from fleet.charts.pdf import chart_pdf
from fleet.charts.places import Place, places
from fleet.services.charts.facts import OPEN, OVER, ChartRow, Face, RowRole, YearChart
from fleet.services.charts.frozen import frozen_cells, frozen_rows
from schedules.rules import Each
from tests.fleet.charts import charts_made as made

__all__ = ["OpenCell", "Unfilled", "unfilled_pages"]

_TASKS = (
    "Wipe the stage and the oil objective",
    "Clean the optical surfaces, top down",
    "Read the temperature",
    "Check for spills",
    "Empty the waste",
    "Check weight",
    "Probe clean",
    "Look at the belt and the guard",
    "Water level",
    "Cover on, lamp off",
    "Background count",
    "Note the pressure",
)
_KINDS = ("Microscope", "Centrifuge", "Refrigerator, 2 to 8 C", "Analyser", "Balance", "Incubator")


@dataclass(frozen=True, slots=True)
class OpenCell:
    """One cell that is to be filled; its rectangle in mm from the paper's top left corner."""

    row: int
    slot: int
    x: float
    y: float
    w: float
    h: float
    role: str
    """day, week, on the day, initials, box or dated: what the bench writes there."""


@dataclass(frozen=True, slots=True)
class Unfilled:
    """One printed page, empty yet."""

    pdf: bytes
    """Of this page alone."""
    paper: tuple[float, float]
    """Width and height in mm."""
    cells: tuple[OpenCell, ...]
    print: object
    """The print it is a page of (`fleet.domain.prints.Print`); generators do not need it."""
    page: int


def unfilled_pages(seed: int) -> Iterator[Unfilled]:
    """The pages of one random chart."""
    from fleet.charts.geometry import PAPERS

    random = Random(f"chart {seed}")
    paper = random.choice(("letter", "letter", "letter", "a4"))
    chart = _chart(random)
    number = "".join(random.choices("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", k=8))
    printed = made.printed(
        chart,
        number,
        paper=paper,
        year=chart.year,
        rows=frozen_rows(chart.rows),
        cells=frozen_cells(chart.rows),
    )
    whole = pypdfium2.PdfDocument(chart_pdf([printed], paper, made.MADE_AT))
    left, top = origin(paper)
    for page in range(1, printed.print.pages + 1):
        cells = [
            OpenCell(
                one.row,
                one.slot,
                one.x + left,
                one.y + top,
                one.w,
                one.h,
                chart.rows[one.row].role.value,
            )
            for one in places(printed.print.geometry, chart.year)
            if one.page == page and _is_open(chart, one)
        ]
        yield Unfilled(_single(whole, page), PAPERS[paper], tuple(cells), printed.print, page)
    whole.close()


def _single(whole: pypdfium2.PdfDocument, page: int) -> bytes:
    from io import BytesIO

    alone, out = pypdfium2.PdfDocument.new(), BytesIO()
    alone.import_pages(whole, [page - 1])
    alone.save(out)
    alone.close()
    return out.getvalue()


def _is_open(chart: YearChart, one: Place) -> bool:
    row = chart.rows[one.row]
    return row.role is RowRole.DATED or row.faces[one.slot].sign in (OPEN, OVER)


def _chart(random: Random) -> YearChart:
    year = random.randint(2025, 2030)
    days = _days(random, year)
    rows: list[ChartRow] = []
    for turn in range(random.choice((1, 1, 2, 2, 3, 4, 5, 7, 9, 12))):
        rows.append(made.day_row(f"{random.choice(_TASKS)} {turn + 1}", days))
    if random.random() < 0.4:
        week_faces = [Face(".")] * made.weeks(year)
        rows.append(made.row(RowRole.WEEK, "Clean the condenser", week_faces, Each.WEEK))
    if random.random() < 0.2:
        rows.append(made.row(RowRole.ON_DAY, "Adjust the balance", days))
    rows.append(made.initials_row(days))
    for each in random.sample((Each.MONTH, Each.QUARTER, Each.HALF_YEAR), random.randint(0, 3)):
        rows.append(made.box_row(f"Check the {each.value}", each))
    chart = made.year_chart(
        rows,
        random.choice(_KINDS),
        year=year,
        on=dt.date(year - 1, 12, 10),
        days="".join(face.sign for face in days),
        unit=made.unit(f"{random.choice(('MS', 'CF', 'RF', 'AN'))}-{random.randint(0, 9999):04d}"),
        dated=random.choice(((made.SERVICE,), (), (made.SERVICE,))),
        notes=((),) * 12,
    )
    return _marked(random, chart) if random.random() < 0.15 else chart


def _days(random: Random, year: int) -> tuple[Face, ...]:
    """A site's year: weekends or a pattern of its own, holidays, a closure, days before issue."""
    closed = random.choice(((5, 6), (5, 6), (5, 6), (6,), (0, 2, 4, 5, 6), (4, 5, 6), ()))
    signs = ["W" if on.weekday() in closed else "." for on in made.days_of(year)]
    for _ in range(random.randint(4, 14)):
        signs[random.randrange(len(signs))] = "H"
    if random.random() < 0.4:
        first = random.randrange(len(signs) - 20)
        for n in range(first, first + random.randint(2, 18)):
            signs[n] = random.choice("CO") if n == first else signs[n - 1]
    if random.random() < 0.15:
        before = random.randrange(10, 150)
        signs[:before] = "N" * before
    return tuple(Face(sign) for sign in signs)


def _marked(random: Random, chart: YearChart) -> YearChart:
    """Printed again in the year: what the record held by then is on it."""
    until = random.randrange(20, 200)
    rows = []
    for one in chart.rows:
        if one.role not in (RowRole.DAY, RowRole.INITIALS):
            rows.append(one)
            continue
        text = "✓" if one.role is RowRole.DAY else "JR"
        faces = [
            Face("d" if random.random() < 0.97 else ",", text)
            if n < until and face.sign == OPEN
            else face
            for n, face in enumerate(one.faces)
        ]
        rows.append(replace(one, faces=tuple(faces)))
    return replace(chart, rows=tuple(rows))
