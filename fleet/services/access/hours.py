"""How long does what opens the pages open them, and how many tries has somebody?

Sources: OWASP ASVS 5.0.0 (7.1.1 and 7.3.1 ask for an idle and an absolute limit, both documented;
6.1.1 for a limit on tries), NIST SP 800-63B (15 characters for a password used alone).
"""

from __future__ import annotations

import datetime as dt
from typing import Final

__all__ = [
    "ABSOLUTE",
    "BENCH_CODE_FOR",
    "BENCH_IDLE",
    "DEVICE_FOR",
    "IDLE",
    "INVITE_FOR",
    "LEAST_PASSWORD",
    "MOST_PASSWORD",
    "RESETS_AN_HOUR",
    "RESETS_OF_ADDRESS",
    "RESET_FOR",
    "SEEN_EVERY",
    "TRIES",
    "TRIES_OF_ADDRESS",
    "WITHIN",
    "WRONG_LINKS",
    "WRONG_LINKS_WITHIN",
]

IDLE: Final = dt.timedelta(hours=2)
"""An account's session ends when it was not used so long."""
BENCH_IDLE: Final = dt.timedelta(hours=4)
"""The same at a bench, where hands are in gloves."""
ABSOLUTE: Final = dt.timedelta(hours=12)
"""Every session ends so long after signing in, however busy it was."""
SEEN_EVERY: Final = dt.timedelta(minutes=2)
"""Use is noted no more often than this."""
DEVICE_FOR: Final = dt.timedelta(days=400)
"""How long an enrolled bench keeps its cookie; browsers keep none for longer."""

INVITE_FOR: Final = dt.timedelta(hours=24)
RESET_FOR: Final = dt.timedelta(hours=1)
BENCH_CODE_FOR: Final = dt.timedelta(minutes=15)
RESETS_AN_HOUR: Final = 3
"""So many mails with a link for a new password go to one address within an hour."""
RESETS_OF_ADDRESS: Final = 30
"""So many may be asked for within an hour from one network address; a laboratory shares its."""

TRIES: Final = 10
"""So many failures within WITHIN slow an account, or a person at a bench."""
TRIES_OF_ADDRESS: Final = 30
"""So many slow the address they came from, whatever the accounts; a bench shares its address."""
WITHIN: Final = dt.timedelta(minutes=15)
WRONG_LINKS: Final = 20
"""So many links that nobody gave may come from one network address within WRONG_LINKS_WITHIN."""
WRONG_LINKS_WITHIN: Final = dt.timedelta(hours=1)

LEAST_PASSWORD: Final = 15
MOST_PASSWORD: Final = 256
