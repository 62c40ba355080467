"""Whose step is what stays overdue? The lead is told at once, then consultant, then manager."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from notifications.digests.follow_up import place_words
from notifications.digests.items import days_past_limit, step_item
from notifications.digests.sections import Line, Section, Tone
from notifications.digests.words import beside, counted, day, title_of, when
from notifications.facts import Duty, Ladder
from notifications.languages import tr

__all__ = ["step_section", "steps", "told_words"]


def steps(
    duties: Iterable[Duty], ladder: Ladder | None, on: dt.date, *, is_manager: bool
) -> list[Duty]:
    """What has become the reader's step, the longest overdue first; nothing without a ladder."""
    if ladder is None:
        return []
    least = ladder.manager_days if is_manager else ladder.consultant_days
    some = [duty for duty in duties if days_past_limit(duty, on) >= max(1, least)]
    return sorted(some, key=lambda duty: (-duty.days_past_due, duty.property_number, duty.task))


def step_section(
    duties: Sequence[Duty], ladder: Ladder | None, on: dt.date, where: str, *, is_manager: bool
) -> Section:
    """The reader's own steps; without a line where there is none."""
    if is_manager:
        least = counted(ladder.manager_days if ladder else 0, "day")
        caption = tr(
            "Overdue for {days} or more; lead and consultant know. Decide when a vendor goes there",
            days=least,
        )
    else:
        least = counted(ladder.consultant_days if ladder else 0, "day")
        caption = tr(
            "Overdue for {days} or more; the site lead knows. Call, and agree on a day",
            days=least,
        )
    return Section(
        title=tr("Your step now"),
        caption=caption,
        columns=(tr("Unit and site"), tr("How it stands")),
        lines=tuple(_line(duty, on) for duty in duties),
        where=where,
    )


def _line(duty: Duty, on: dt.date) -> Line:
    return Line(
        head=duty.property_number,
        about=f"{duty.kind}, {title_of(duty)}: {place_words(duty.place)}",
        when=when(duty, on),
        tone=Tone.LATE,
        beside=beside(duty, on),
        items=(step_item(duty),),
    )


def told_words(duty: Duty) -> str:
    """Who beside the lead has been told, for the lead to know; '' for nobody."""
    managers = [one.told_on for one in duty.escalated if one.is_manager]
    consultants = [one.told_on for one in duty.escalated if not one.is_manager]
    if managers:
        return tr("consultant and manager were told, the last on {day}", day=day(max(managers)))
    if consultants:
        return tr("the consultant was told on {day}", day=day(min(consultants)))
    return ""
