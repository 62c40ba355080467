"""How is it told what an entry had for consequences, before all else?"""

from __future__ import annotations

from fleet.services.entry_effects import Effects
from notifications.digests.words import day

__all__ = ["first_line"]


def first_line(effects: Effects) -> str:
    """What is wrong and comes before all else; '' where nothing is."""
    if effects.action is None or effects.ended is not None:
        return ""
    if effects.still and effects.action not in effects.still:
        return ""
    sort = "Out of limits" if effects.action.entry else "Failed"
    told = f"{sort}: {effects.action.problem}."
    if effects.began is None and effects.still:
        return f"{told} Do not use it: it is out of service until each failed check is passed."
    if effects.began is None:
        return f"{told} First do what the cautions say."
    if effects.began.to_on is not None:
        return f"{told} It was out of service until {day(effects.began.to_on)}."
    since = f"it is out of service from {day(effects.began.from_on)}"
    return f"{told} Do not use it: {since} until the check is passed and marked done."
