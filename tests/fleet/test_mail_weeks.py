"""A week round each change of the clock: each mail once, whatever befalls three real processes.

The small form of `tests.studies.mail_year`.
"""

from __future__ import annotations

import datetime as dt

import holidays

from fleet.storage import SqlStore
from tests.fleet.mail_days import DAY, found_wrong, make_state, minutes_between
from tests.fleet.mail_processes import Drive

CLOSED = holidays.country_holidays("US", subdiv="NE", years=range(2025, 2028))
"""An independent library's holidays; the sites are closed on weekends."""


SPRING, AUTUMN = dt.date(2026, 3, 8), dt.date(2026, 11, 1)
"""Daylight saving time of 2026 in the United States: 15 U.S.C. 260a."""


def test_a_week_round_a_change_of_the_clock_has_each_mail_once(
    store: SqlStore, fleet_url: str
) -> None:
    """Every minute until 14:00 UTC on the day of the change, every twenty minutes on the days
    before and after it; the change of autumn on SQLite, that of spring on PostgreSQL.
    """
    changes_on = AUTUMN if fleet_url.startswith("sqlite") else SPRING
    first = dt.datetime.combine(changes_on - 7 * DAY, dt.time(12), dt.UTC)
    make_state(store, changes_on - 300 * DAY)
    instants = minutes_between(
        first, first + 10 * DAY, lambda at: at.date() == changes_on and at.hour < 14
    )

    drive = Drive(fleet_url)
    drive.run(instants, trouble_every=150, kill_chance=0.15)

    mondays = [changes_on - 6 * DAY, changes_on + DAY]
    assert found_wrong(store, mondays, lambda on: on.weekday() > 4 or on in CLOSED) == []
    assert min(drive.counts[what] for what in ("slept", "set back", "restarted", "killed")) > 0
    assert {words.partition(",")[0][:14] for words in drive.said} == {"the clock says"}
