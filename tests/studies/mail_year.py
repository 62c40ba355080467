"""A simulated year of minutes: does each person get each mail once, whatever befalls?

python -m tests.studies.mail_year [sqlite|postgresql] drives three real processes on one database
minute by minute from 1 January 2026 to 1 January 2027 in five time zones. Every 2,000 minutes one
is restarted, the machine sleeps or the clock is set back; on Mondays, when mail is planned, one is
killed (SIGKILL) while it ticks, in every fifth hour by chance. What stands in the outbox is judged
by the calendar. About an hour a database.
"""

from __future__ import annotations

import datetime as dt
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import holidays

from fleet.storage import create, open_store
from notifications.outbox import State
from tests.fleet.mail_days import DAY, found_wrong, make_state, minutes_between
from tests.fleet.mail_processes import Drive
from tests.postgres_server import new_database, programs, running

FIRST, LAST = dt.datetime(2026, 1, 1, tzinfo=dt.UTC), dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
CLOSED = holidays.country_holidays("US", subdiv="NE", years=range(2025, 2028))


def main(database: str) -> None:
    """Drive the year and print a line of the table."""
    with ExitStack() as stack:
        if database == "sqlite":
            folder = stack.enter_context(tempfile.TemporaryDirectory())
            url = f"sqlite:///{Path(folder) / 'fleet.db'}"
        else:
            folder_of_programs = programs()
            assert folder_of_programs is not None, "there is no PostgreSQL on this machine"
            url = new_database(stack.enter_context(running(folder_of_programs)))
        create(url)
        store = stack.enter_context(closing(open_store(url, clock=lambda: FIRST)))
        make_state(store, FIRST.date() - 300 * DAY)
        start = time.monotonic()
        drive = Drive(url)
        instants = minutes_between(FIRST, LAST, lambda _: True)
        drive.run(instants, trouble_every=2000, kill_chance=0.2)
        seconds = time.monotonic() - start
        wrong = found_wrong(store, list(_mondays()), lambda on: on.weekday() > 4 or on in CLOSED)
        with store.begin() as record:
            rows = record.mail.rows()
    sent = sum(row.state is not State.SUPPRESSED for row in rows)
    troubles = ", ".join(f"{n} {what}" for what, n in sorted(drive.counts.items()))
    print(
        f"| {database} | {drive.ticks:,} | {troubles} | {sent:,} | {len(rows) - sent:,}"
        f" | {len(wrong)} | {seconds:,.0f} s |"
    )
    for line in [*wrong[:20], *(f"{n} times: {words}" for words, n in drive.said.items())]:
        print(f"  {line[:160]}")


def _mondays() -> Iterator[dt.date]:
    on = dt.date(2026, 1, 5)
    while on + 7 * DAY < LAST.date():
        yield on
        on += 7 * DAY


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "sqlite")
