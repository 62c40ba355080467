"""How well does a site keep its record? Most are good, a fifth are fair, a few are poor."""

from __future__ import annotations

from functools import cache

from demo_data.scenario.chance import Chance

__all__ = ["habit_of"]

_POOR_SITES = frozenset({"grant", "thurston", "hitchcock", "pawnee"})
_FAIR_SHARE = 0.2


@cache
def habit_of(site: str) -> str:
    """The habit of a site: good, fair or poor."""
    if site in _POOR_SITES:
        return "poor"
    return "fair" if Chance("habit", site).happens(_FAIR_SHARE) else "good"
