"""Who may open which sort of page?"""

from __future__ import annotations

from typing import Final

from fleet.domain.records import Role

__all__ = ["ACCOUNTS", "AT_BENCH", "AT_SITES", "CONSULTANTS", "LEADS", "MANAGERS", "OVERSEERS"]

ACCOUNTS: Final = frozenset(Role)
"""Whoever signed in with an account of their own, or a bench; account pages look closer."""
AT_BENCH: Final = frozenset({Role.BENCH, Role.SITE_LEAD, Role.CONSULTANT})
LEADS: Final = frozenset({Role.SITE_LEAD, Role.CONSULTANT, Role.MANAGER})
"""Who sees a site's page: its lead, the consultant of its region, the manager."""
AT_SITES: Final = AT_BENCH | LEADS
"""Who sees what there is to mark at a site: at its bench, or on its page."""
CONSULTANTS: Final = frozenset({Role.CONSULTANT})
MANAGERS: Final = frozenset({Role.MANAGER})
OVERSEERS: Final = frozenset({Role.CONSULTANT, Role.MANAGER})
"""Who sees more than one site."""
