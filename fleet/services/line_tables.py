"""In which order do chains leave a record and come back, and what are their lines counted as?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

__all__ = ["ENTRY", "TABLE_OF_CHAIN", "chains_in_order", "table_of"]

ENTRY = "entry/"
"""How the names of the chains of entries begin."""

TABLE_OF_CHAIN: Mapping[str, str] = {
    "tombstone": "tombstones",
    "rule_book": "rules",
    "holiday_year": "holiday_years",
    "register/site": "sites",
    "register/weekly_pattern": "patterns",
    "register/holiday": "holidays",
    "register/closure": "closures",
    "register/unit": "units",
    "register/placement": "placements",
    "register/outage": "outages",
    "register/person": "people",
    "register/renumbering": "renumberings",
    "register/extension": "extensions",
    "register/service_report": "reports",
    "register/action": "actions",
    "register/review": "reviews",
    "register/chart_print": "prints",
    "register/absence": "absences",
    "register/quiet_period": "quiet_periods",
    "register/mail_setting": "mail_settings",
    "register/visit_plan": "plans",
    "register/site_visit": "visits",
    "register/unsuitable_days": "unsuitable_days",
    "register/technician_days_off": "technician_days_off",
    "attachment": "attachments",
    "seal": "seals",
}
"""Every chain but those of entries, each after those it refers to. Tombstones say of which lines
the content is gone, so they come first; entries come last."""


def chains_in_order(property_numbers: Iterable[str]) -> list[str]:
    """Every chain a record may have, in the order in which an export holds them."""
    return [*TABLE_OF_CHAIN, *sorted((f"{ENTRY}{n}" for n in property_numbers), key=str.encode)]


def table_of(chain: str) -> str:
    """What a chain's lines are counted as; KeyError for a chain there is none of."""
    return "entries" if chain.startswith(ENTRY) else TABLE_OF_CHAIN[chain]
