"""By which name is a thing told, and how does it stand? So that it is told in full only once.

Standings are coarse: a day more is no news, a step of the ladder or one more gap is.
"""

from __future__ import annotations

import datetime as dt

from notifications.digests.folding import item
from notifications.facts import (
    Chart,
    ChartToPrint,
    Duty,
    Ladder,
    OpenAction,
    OpenOutage,
    SilentUnit,
    Standing,
    WaitingMonth,
)

__all__ = [
    "Item",
    "action_item",
    "days_past_limit",
    "duty_item",
    "gap_item",
    "month_item",
    "outage_item",
    "print_item",
    "silent_item",
    "step_item",
]

Item = tuple[str, str]
"""A lasting name, and how what it names stands."""


def days_past_limit(duty: Duty, on: dt.date) -> int:
    """So many days a duty has been overdue; 0 where it is not."""
    return max(0, (on - duty.limit_on).days) if duty.standing is Standing.OVERDUE else 0


def duty_item(duty: Duty, on: dt.date, ladder: Ladder | None) -> Item:
    """A dated duty: due, overdue, or on which step of the ladder it is."""
    late, standing = days_past_limit(duty, on), duty.standing.value
    if late and ladder is not None:
        if late >= ladder.manager_days:
            standing = f"{standing}+{ladder.manager_days}"
        elif late >= ladder.consultant_days:
            standing = f"{standing}+{ladder.consultant_days}"
    return item("duty", duty.property_number, duty.task), f"{standing} {duty.due_on}"


def step_item(duty: Duty) -> Item:
    """A duty that has become the reader's own step; who told it when is read from this name."""
    return item("step", duty.property_number, duty.task), "overdue"


def gap_item(chart: Chart) -> Item:
    """A chart with gaps: another one, or a later one, is news."""
    last_on = chart.gaps[-1].to_on if chart.gaps else None
    count = len(chart.gaps) or chart.missed
    return item("gap", chart.property_number, chart.task), f"{count} to {last_on}"


def action_item(action: OpenAction, on: dt.date) -> Item:
    """A corrective action; its review falling due is news."""
    is_late = action.review_on is not None and action.review_on < on
    return item("action", action.number), "review overdue" if is_late else "open"


def outage_item(outage: OpenOutage) -> Item:
    """A unit that is still out of service."""
    return item("outage", outage.property_number), f"since {outage.from_on}"


def silent_item(unit: SilentUnit) -> Item:
    """A unit nobody reports on."""
    return item("silent", unit.property_number), f"since {unit.last_done_on}"


def month_item(month: WaitingMonth) -> Item:
    """A month to review; that its charts came back, or that it was reopened, is news."""
    standing = "reopened" if month.is_reopened else "back" if month.returned_on else "waiting"
    return item("month", month.place.site, f"{month.first_on:%Y-%m}"), standing


def print_item(chart: ChartToPrint) -> Item:
    """A chart to print."""
    name = item("to-print", chart.property_number, chart.place.site, str(chart.year))
    return name, chart.why.value
