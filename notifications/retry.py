"""When is a message tried again, and whose fault was it? From the server's reply alone.

RFC 5321 4.2.1: 4xx may work later, 5xx will not. RFC 3463 (enhanced codes): class.subject.detail,
where subject 1 is the address, 2 the mailbox, 7 policy. RFC 5321 4.5.4.1: wait 30 minutes in
general, give up after 4 to 5 days; a digest is stale before that, so three days are enough. The
first tries come sooner: a server that greylists takes the second after a few minutes.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import Final

__all__ = ["GIVES_UP_AFTER", "is_hard_bounce", "retry_at"]

GIVES_UP_AFTER: Final = dt.timedelta(days=3)
"""So long after it was planned a message is tried."""
_WAITS: Final = (5, 15, 30, 60, 120, 240, 360)
"""Minutes after the first try, the second, ...; the last goes on."""
_FULL: Final = 2
"""A full mailbox or disk begins with this wait: it will not be empty in five minutes."""
_JITTER: Final = 0.2
_HARD: Final = frozenset({550, 551, 553})
_ENHANCED: Final = re.compile(r"\b([245])\.(\d{1,3})\.(\d{1,3})\b")


def retry_at(
    key: str, attempts: int, code: int | None, answer: str, planned_at: dt.datetime, at: dt.datetime
) -> dt.datetime | None:
    """The instant of the next try after the given number of them; None: it is given up.

    key: the message's, from which follows where within a fifth of the wait it falls, so that not
    all come back at once and the same message always waits as long.
    """
    step = attempts - 1 + (_FULL if _is_full(code, answer) else 0)
    minutes = _WAITS[min(step, len(_WAITS) - 1)] * _spread(key, attempts)
    next_at = at + dt.timedelta(seconds=round(minutes * 60))
    return next_at if next_at < planned_at + GIVES_UP_AFTER else None


def is_hard_bounce(code: int | None, answer: str) -> bool:
    """Say whether the reply means that there is no such address, rather than that we may not.

    550, 551 and 553 without an enhanced code do; with one, 5.1.x (no such address) and 5.2.1
    (mailbox closed) do, and 5.7.x (policy) does not.
    """
    if code is None or code < 500:
        return False
    enhanced = _enhanced(answer)
    if enhanced is None:
        return code in _HARD
    return enhanced[1] == 1 or enhanced[1:] == (2, 1)


def _is_full(code: int | None, answer: str) -> bool:
    """RFC 3463: X.2.2 mailbox full, X.3.1 mail system full; RFC 5321: 452 no storage."""
    enhanced = _enhanced(answer)
    return code == 452 or (enhanced is not None and enhanced[1:] in {(2, 2), (3, 1)})


def _enhanced(answer: str) -> tuple[int, int, int] | None:
    found = _ENHANCED.search(answer)
    return None if found is None else (int(found[1]), int(found[2]), int(found[3]))


def _spread(key: str, attempts: int) -> float:
    """A factor from 0.8 to 1.2."""
    share = int(key[:8], 16) * (attempts * 2 + 1) % 2**32 / 2**32
    return 1 + _JITTER * (2 * share - 1)
