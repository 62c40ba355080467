"""How is it said that a visit moved, came in or went?"""

from __future__ import annotations

from notifications.digests.words import day
from schedules.visits.difference import Move

__all__ = ["move_words"]


def move_words(move: Move) -> str:
    """A line a visit: 'polk: Mon 14 Dec 2026 to Tue 15 Dec 2026'."""
    was, now = move.was, move.now
    firm = f" ({move.grade.value})" if was is not None else ""
    if was is None and now is not None:
        return f"{now.site}: comes in, {day(now.on)}, {now.technician}"
    if now is None and was is not None:
        return f"{was.site}{firm}: goes, was {day(was.on)}, {was.technician}"
    if was is None or now is None:
        return ""
    who = f", {now.technician}" + (f" for {was.technician}" * (now.technician != was.technician))
    days = f"{day(was.on)} to {day(now.on)}" if now.on != was.on else f"stays on {day(now.on)}"
    return f"{was.site}{firm}: {days}{who}"
