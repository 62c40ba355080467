"""What is a plan in figures? The first page: counts, money, notes."""

from __future__ import annotations

from collections.abc import Sequence

from fleet.files.paper import POINT
from fleet.pictures.drawing import Rect, Words
from fleet.pictures.money import Priced, money_marks
from fleet.pictures.phrases import long_day
from fleet.pictures.plan_paper import FOOT, MARGIN, PlanPaper
from fleet.pictures.sheet import draw
from notifications.digests.words import counted
from schedules.visits.model import Order
from schedules.visits.told import ToldPlan

__all__ = ["draw_summary"]

_SIZE, _LINE = 8.0, 8.0 * POINT * 1.3


def draw_summary(
    sheet: PlanPaper,
    order: Order,
    told: ToldPlan,
    title: str,
    plans: Sequence[Priced],
    notes: Sequence[str],
) -> None:
    """A page with the plan's figures, its money beside that of others, and notes."""
    sheet.add_page()
    sheet.start_section("Summary")
    sheet.write_in(20, bold=True)
    shown = sheet.fit(sheet.clean(title), sheet.w - 2 * MARGIN)
    span = f"Vendor visits from {long_day(order.from_on)} to {long_day(order.to_on)}"
    head = Words(x=MARGIN, y=MARGIN + 7, text=shown, size=20, is_bold=True)
    under = Words(x=MARGIN, y=MARGIN + 14, text=span, size=10)
    y = MARGIN + 26
    draw(sheet, (head, under, *_figures(told, y, sheet.w - 2 * MARGIN)))
    y += 12
    if plans:
        marks, high = money_marks(plans, Rect(MARGIN, y, sheet.w - MARGIN, y))
        draw(sheet, marks)
        y += high + 4
    _notes(sheet, notes, y + 2)


def _figures(told: ToldPlan, y: float, room: float) -> list[Words]:
    """The plan's counts, large, and under each what it counts."""
    figures = (
        (len(told.trips), "trips"),
        (told.visits, "visits"),
        (told.needs, "services"),
        (len(told.unplaced), "unplaced"),
        ((told.miles + 50) // 100, "miles"),
        ((told.drive_minutes + 30) // 60, "hours driven"),
        (told.days, "technician days"),
        (told.nights, "nights away"),
        (told.lost_days, "lost interval days"),
    )
    made = []
    for turn, (figure, called) in enumerate(figures):
        x = MARGIN + turn * room / len(figures)
        made.append(Words(x=x, y=y, text=f"{figure:,}", size=16, is_bold=True))
        made.append(Words(x=x, y=y + 4.4, text=called, size=7.5))
    return made


def _notes(sheet: PlanPaper, notes: Sequence[str], y: float) -> None:
    """As many lines as the page has room for; how many are left out is said."""
    sheet.write_in(_SIZE)
    lines = [line for note in notes for line in sheet.wrap(note, sheet.w - 2 * MARGIN)]
    fitting = max(1, int((sheet.h - FOOT - y) / _LINE))
    if len(lines) > fitting:
        left_out = counted(len(lines) - fitting + 1, "more line")
        lines = [*lines[: fitting - 1], f"… and {left_out}"]
    for turn, line in enumerate(lines):
        sheet.text(MARGIN, y + turn * _LINE, line)
