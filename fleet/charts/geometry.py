"""How is a chart divided into pages, months and rows, and how large is everything on it?

All lengths are millimetres within the *box* of 259 x 190 that stands in the middle of the paper,
from its top left corner. A page is, from top to bottom: the header, its months one below the other,
what is left, the footer. A month is a line of days, the grid rows, and the monthly rows with their
boxes. What a chart was divided into is kept as *geometry*, canonical JSON; where its cells lie
follows from that and the year alone (`fleet.charts.places`).

Sizes were chosen with pictures of simulated pages; rows below 5.0 mm were never tried.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from fleet.errors import ChartTooLong, UnknownLayout
from fleet.services.charts.facts import ChartRow, RowRole, YearChart
from fleet.services.charts.periods import is_end_month
from schedules.rules import Each

__all__ = [
    "BOX_HEIGHT",
    "BOX_WIDTH",
    "CODE_CORNERS",
    "DATED_BETWEEN",
    "DATED_FEW",
    "DATED_LEFT",
    "DATED_TOP",
    "DATED_WIDTH",
    "DAY_ROW",
    "DAY_WIDTH",
    "FEW_SLOTS",
    "FOOTER",
    "FORM_HEIGHT",
    "FORM_WIDTH",
    "HEADER",
    "LABEL",
    "LAYOUT",
    "LEAST_ROW",
    "MODULE",
    "MOST_SLOTS",
    "PANEL",
    "PAPERS",
    "STROKES",
    "TAG",
    "TAG_CORNERS",
    "TAG_MODULE",
    "TALLEST_ROW",
    "Division",
    "Stroke",
    "division",
    "geometry_of",
    "origin",
    "read_geometry",
    "row_height",
]

LAYOUT = "1"
"""The version of every length here, not only of what a geometry tells: what was printed comes back
a year later, so a change of any is another layout, and this one stays."""

PAPERS = {"letter": (279.4, 215.9), "a4": (297.0, 210.0)}
"""Width and height of the papers, lying (ANSI/ASME Y14.1, ISO 216)."""
FORM_WIDTH, FORM_HEIGHT = 259.0, 190.0
HEADER, FOOTER = 23.0, 11.5
LABEL, DAY_WIDTH = 45.0, 6.9
DAY_ROW = 4.6
TALLEST_ROW, LEAST_ROW = 8.1, 5.0
PANEL = 28.0
"""So much is kept free below the months, for legend and cautions, where rows can be 5 mm all the
same."""
DATED_LEFT, DATED_TOP, DATED_WIDTH = 191.0, 0.2, 31.0
DATED_ROOM, DATED_BETWEEN, DATED_FEW = 22.6, 0.6, 2
"""The boxes of dated duties in the header: where they begin, how wide they are; how high all of
them are together, the white below each; where there are fewer than two they are as two."""
BOX_HEIGHT, BOX_WIDTH = 6.5, 20.0
MOST_SLOTS, FEW_SLOTS = 4, 2
"""Boxes side by side in a monthly row, each behind its caption; where no month has more than two
boxes, captions have twice the room."""

TAG, TAG_MODULE = 9.0, 1.5
TAG_CORNERS = (
    (0.0, 0.0),
    (FORM_WIDTH - TAG, 0.0),
    (FORM_WIDTH - TAG, FORM_HEIGHT - TAG),
    (0.0, FORM_HEIGHT - TAG),
)
"""Top left corners of the tags, clockwise; round each is one module (1.5 mm) of white."""
MODULE, MODULES = 0.95, 21
_QUIET = 4 * MODULE
"""ISO/IEC 18004: four modules of white beside a symbol."""
CODE_CORNERS = (
    (TAG + _QUIET, 0.0),
    (FORM_WIDTH - TAG - _QUIET - MODULES * MODULE, 0.0),
)
"""Top left corners of the two codes."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One upright stroke of the strength strip: where it begins, its sizes, how black it is."""

    x: float
    y: float
    height: float
    width: float
    black: float


STROKES = tuple(
    Stroke(round(234.0 + 1.5 * turn, 3), 186.4, 3.2, width, black)
    for turn, (width, black) in enumerate(
        (width, black) for width in (0.3, 0.5) for black in (0.3, 0.5, 0.7, 1.0)
    )
)
"""The strength strip in the footer: where its pale strokes are gone, light ink is gone too."""

_MONTHS_A_PAGE = (3, 2, 1)
_WITHOUT_GRID = (12, 6, 4, 3, 2, 1)
_IN_GRID = tuple(role for role in RowRole if role not in (RowRole.BOX, RowRole.DATED))


@dataclass(frozen=True, slots=True)
class Division:
    """How a chart is divided; `roles` are its rows from top to bottom, a box as its period; those
    of the header come last.
    """

    roles: tuple[str, ...]
    grid_rows: int
    box_rows: int
    months: int
    """A page."""
    row: float
    """The height of a grid row."""
    slots: int = MOST_SLOTS
    """Boxes side by side in a monthly row."""
    layout: str = LAYOUT

    @property
    def pages(self) -> int:
        """How many pages there are."""
        return 12 // self.months

    @property
    def slot_width(self) -> float:
        """What a box has with its caption."""
        return 31 * DAY_WIDTH / self.slots

    @property
    def month_height(self) -> float:
        """What a month takes, from its line of days to its last monthly row."""
        return DAY_ROW + self.grid_rows * self.row + self.box_rows * BOX_HEIGHT

    @property
    def dated(self) -> int:
        """How many boxes of dated duties the header of each page has."""
        return self.roles.count(RowRole.DATED)

    @property
    def dated_pitch(self) -> float:
        """From one of them to the next."""
        return DATED_ROOM / max(self.dated, DATED_FEW)

    @property
    def bottom(self) -> float:
        """Where the months of a page end; between there and the footer the paper is free."""
        return HEADER + self.months * self.month_height

    def month_top(self, month: int) -> float:
        """Where a month (1 to 12) begins on its page."""
        return HEADER + (month - 1) % self.months * self.month_height

    def page_of(self, month: int) -> int:
        """On which page a month stands, counted from 1."""
        return (month - 1) // self.months + 1

    def months_of(self, page: int) -> range:
        """The months of a page."""
        return range((page - 1) * self.months + 1, page * self.months + 1)


def row_height(grid_rows: int, box_rows: int, months: int, panel: float = 0.0) -> float:
    """What so many months a page leave for each of the grid rows, in steps of 0.01 mm.

    panel: kept free below the months. Without grid rows: for all of them. It may be less than
    nothing.
    """
    hundredths = round(100 * (FORM_HEIGHT - HEADER - FOOTER - panel)) // months
    free = hundredths - round(100 * (DAY_ROW + box_rows * BOX_HEIGHT))
    return free // max(grid_rows, 1) / 100


def division(grid_rows: int, box_rows: int) -> tuple[int, float] | None:
    """Months a page and the height of a grid row; None where nothing fits.

    The most months that leave every row at least 5.0 mm; without grid rows the most that fit.
    """
    for months in _MONTHS_A_PAGE if grid_rows else _WITHOUT_GRID:
        height = row_height(grid_rows, box_rows, months)
        if not grid_rows and height >= 0:
            return months, 0.0
        if grid_rows and height >= LEAST_ROW:
            beside_panel = row_height(grid_rows, box_rows, months, PANEL)
            height = beside_panel if beside_panel >= LEAST_ROW else height
            return months, min(height, TALLEST_ROW)
    return None


def geometry_of(chart: YearChart) -> str:
    """A chart's geometry as canonical JSON; ChartTooLong where it has more rows than paper holds.

    box_rows: monthly rows; layout; months: a page; row: the height of a grid row; rows: what each
    row is, from top to bottom, as in `RowRole`, a box by its period as in `Each`; slots: of a
    monthly row.
    """
    roles = tuple(_role(row) for row in chart.rows)
    grid, boxes = _grid_rows(roles), _box_rows(roles)
    found = division(grid, boxes)
    if found is None:
        holds = next(n for n in range(grid, -1, -1) if n == 0 or division(n, boxes))
        raise ChartTooLong(chart.kind.code, grid, boxes, holds)
    slots = FEW_SLOTS if _most_boxes(roles) <= FEW_SLOTS else MOST_SLOTS
    made = {"box_rows": boxes, "layout": LAYOUT, "months": found[0], "row": found[1]}
    whole = {**made, "rows": roles, "slots": slots}
    return json.dumps(whole, sort_keys=True, separators=(",", ":"))


@lru_cache(maxsize=256)
def read_geometry(geometry: str) -> Division:
    """Read the JSON of `geometry_of`; UnknownLayout where it is of another layout than this."""
    told = json.loads(geometry)
    if told["layout"] != LAYOUT:
        raise UnknownLayout(told["layout"], LAYOUT)
    roles = tuple(told["rows"])
    return Division(
        roles=roles,
        grid_rows=_grid_rows(roles),
        **{name: told[name] for name in ("box_rows", "months", "row", "slots", "layout")},
    )


def origin(paper: str) -> tuple[float, float]:
    """Where the box's top left corner lies on a paper, from the paper's own."""
    width, height = PAPERS[paper]
    return (width - FORM_WIDTH) / 2, (height - FORM_HEIGHT) / 2


def _role(row: ChartRow) -> str:
    if row.role is not RowRole.BOX:
        return row.role.value
    assert row.each is not None  # noqa: S101 - a box has a period
    return row.each.value


def _grid_rows(roles: Sequence[str]) -> int:
    return sum(role in _IN_GRID for role in roles)


def _box_rows(roles: Sequence[str]) -> int:
    """How many monthly rows hold the boxes of the fullest month; at least one."""
    return max(1, -(-_most_boxes(roles) // MOST_SLOTS))


def _most_boxes(roles: Sequence[str]) -> int:
    """How many boxes the fullest month has."""
    eaches = [Each(role) for role in roles if role not in tuple(RowRole)]
    return max(sum(is_end_month(each, month) for each in eaches) for month in range(1, 13))
