"""A worker's minute: what goes wrong in it is told in a line and ends nothing."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from fleet.errors import StoreError
from fleet.services.mailing.plan import Tools
from fleet.services.mailing.work import Worker
from fleet.storage import SqlStore
from notifications.dispatch import Tally
from tests.fleet.services.mailing.mail_fleet import MONDAY, a_fleet, at, mail_tools

MINUTE = dt.timedelta(minutes=1)
DUE_AT = at(MONDAY)


class Failing:
    """Public holidays that fail with an error as long as there is one."""

    def __init__(self, tools: Tools) -> None:
        self.error: Exception | None = None
        self._whole = tools.public_holidays

    def __getattr__(self, name: str) -> object:
        if self.error is not None:
            raise self.error
        return getattr(self._whole, name)


def a_worker(store: SqlStore) -> tuple[Worker, Failing, list[dt.datetime]]:
    """One that plans and sends nothing, with holidays that can be made to fail, and its clock."""
    now = [DUE_AT - dt.timedelta(hours=1)]
    tools = mail_tools(store, lambda: now[0])
    failing = Failing(tools)
    worker = Worker(
        store=store,
        tools=replace(tools, public_holidays=failing),  # type: ignore[arg-type]
        leadership=store.leadership("one"),
        owner="one",
        clock=lambda: now[0],
        door=None,
    )
    return worker, failing, now


def test_an_unforeseen_error_is_told_once_an_hour_and_the_next_minute_tries_again(
    sqlite_store: SqlStore,
) -> None:
    worker, failing, now = a_worker(a_fleet(sqlite_store))
    worker.tick()

    now[0], failing.error = DUE_AT, KeyError("unforeseen")
    (line,) = worker.tick().says
    assert line.startswith("this minute's mail failed in test_work.py line ")
    assert line.endswith(" and is tried again in the next: KeyError: 'unforeseen'")
    now[0] += MINUTE
    assert worker.tick().says == ()
    now[0] += 60 * MINUTE
    assert worker.tick().says == (line,)
    failing.error = None
    now[0] += MINUTE
    assert worker.tick().planned == 4


def test_a_refusal_speaks_for_itself(sqlite_store: SqlStore) -> None:
    worker, failing, now = a_worker(a_fleet(sqlite_store))
    worker.tick()

    now[0], failing.error = DUE_AT, StoreError("fleet.db: the disk is full; free some space")
    assert worker.tick().says == ("fleet.db: the disk is full; free some space",)


class Broken:
    """Webhooks that fail."""

    def plan(self, now: dt.datetime) -> int:
        raise KeyError("unforeseen")


def test_webhooks_that_fail_are_told_and_the_mail_goes_all_the_same(
    sqlite_store: SqlStore,
) -> None:
    worker, _, now = a_worker(a_fleet(sqlite_store))
    worker.tick()
    worker.webhooks = Broken()  # type: ignore[assignment]
    now[0] = DUE_AT
    done = worker.tick()
    assert done.planned == 4
    (line,) = done.says
    assert line.startswith("this minute's webhooks failed in test_work.py line ")
    assert line.endswith(" and are tried again in the next: KeyError: 'unforeseen'")


def test_mail_that_fails_holds_up_no_webhook(sqlite_store: SqlStore) -> None:
    worker, failing, now = a_worker(a_fleet(sqlite_store))
    worker.tick()
    looked = []

    class Looking:
        def plan(self, now: dt.datetime) -> int:
            looked.append(now)
            return 3

        def send(self, is_stopped: object) -> Tally:
            return Tally(sent=2)

    worker.webhooks = Looking()  # type: ignore[assignment]
    now[0], failing.error = DUE_AT, KeyError("unforeseen")
    done = worker.tick()
    assert done.says[0].startswith("this minute's mail failed in ")
    assert (looked, done.queued, done.calls.sent) == ([DUE_AT], 3, 2)
    worker.stop()
    assert worker.tick().queued == 0
