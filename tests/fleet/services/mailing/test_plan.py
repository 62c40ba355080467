"""What is told beside the state: the ladder, what did not arrive, who stands in, what was told."""

from __future__ import annotations

import datetime as dt
from email import message_from_bytes, policy
from email.message import EmailMessage
from threading import Barrier, Thread

import pytest

from fleet.domain.mail_times import Absence, MailSetting
from fleet.services.mailing.letters import Letters
from fleet.storage import SqlStore
from notifications.messages import Kind
from notifications.outbox import Settled, State
from tests.fleet.services.mailing.mail_fleet import (
    BIRCH_LEAD,
    CONSULTANT,
    LEAD,
    MANAGER,
    MONDAY,
    Minutes,
    a_fleet,
    at,
    change,
    sent_rows,
)

DAY, WEEK = dt.timedelta(days=1), dt.timedelta(days=7)


@pytest.fixture
def fleet(sqlite_store: SqlStore) -> SqlStore:
    """A-1 is due on 2 November, overdue after the 17th."""
    return a_fleet(sqlite_store)


def text_of(store: SqlStore, email: str, kind: Kind, on: dt.date) -> str:
    """The text of the mail of a day, on one line."""
    (row,) = [row for row in sent_rows(store, email) if (row.kind, row.day) == (kind, on)]
    with store.begin() as record:
        content = record.mail.content(row.key)
    assert content is not None
    body = message_from_bytes(content, EmailMessage, policy=policy.default).get_body(("plain",))
    assert body is not None
    return " ".join(body.get_content().split())


def test_what_is_overdue_climbs_from_lead_to_consultant_to_manager(fleet: SqlStore) -> None:
    """Limit 17 November: 6 days past it on the 23rd, 13 on the 30th, 20 and 27 in December."""
    minutes = Minutes(fleet, at(dt.date(2026, 11, 22), "06:00"))
    mondays = [dt.date(2026, 11, 23) + n * WEEK for n in range(4)]
    minutes.until(at(mondays[-1], "12:00"), dt.timedelta(hours=6))

    def is_step(email: str, kind: Kind) -> list[bool]:
        return ["YOUR STEP NOW" in text_of(fleet, email, kind, on) for on in mondays]

    assert is_step(CONSULTANT, Kind.CONSULTANT)[:2] == [False, True]
    assert is_step(MANAGER, Kind.MANAGER) == [False, False, False, True]
    lead = [text_of(fleet, LEAD, Kind.SITE_LEAD, on) for on in mondays]
    assert "the consultant was told" not in lead[0] + lead[1]
    assert "the consultant was told on Mon 30 Nov 2026" in lead[2]


def test_the_days_of_the_ladder_can_be_set(fleet: SqlStore) -> None:
    change(fleet, MailSetting(name="ladder_manager_days", value="3"), at=at(MONDAY, "05:00"))
    Minutes(fleet).tick()
    Minutes(fleet).tick(at(MONDAY))

    assert "Overdue for 3 days or more" in text_of(fleet, MANAGER, Kind.MANAGER, MONDAY)


def test_what_was_told_is_folded_and_what_is_new_stands_first(fleet: SqlStore) -> None:
    change(fleet, MailSetting(name="ladder_consultant_days", value="300"), at=at(MONDAY, "05:00"))
    minutes = Minutes(fleet)
    minutes.tick()
    minutes.until(at(MONDAY + WEEK, "12:00"), dt.timedelta(hours=6))

    first = text_of(fleet, LEAD, Kind.SITE_LEAD, MONDAY)
    second = text_of(fleet, LEAD, Kind.SITE_LEAD, MONDAY + WEEK)
    assert "AS BEFORE" not in first
    assert "OVERDUE (1)" in first
    assert "OVERDUE (1)" not in second
    told = second.partition("AS BEFORE")[2]
    assert "A-1: Bench microscope: Service by the vendor. Overdue by" in told
    assert second.index("CHARTS WITH GAPS") < second.index("AS BEFORE")


def test_what_did_not_arrive_is_told_to_the_consultant_of_the_region(fleet: SqlStore) -> None:
    minutes = Minutes(fleet, at(MONDAY - DAY, "06:00"))
    minutes.until(at(MONDAY, "07:00"), dt.timedelta(hours=1))
    (row,) = sent_rows(fleet, LEAD)
    for one in fleet.outbox.claim("me", 20, minutes.now, minutes.now + DAY, 0):
        is_lost = one.key == row.key
        settled = Settled(
            state=State.DEAD if is_lost else State.SENT,
            at=minutes.now,
            code=550 if is_lost else 250,
            answer="RCPT: 5.1.1 no such user" if is_lost else "taken",
        )
        fleet.outbox.settle("me", one.key, settled)

    minutes.until(at(MONDAY + WEEK, "07:00"), dt.timedelta(hours=6))
    told = text_of(fleet, CONSULTANT, Kind.CONSULTANT, MONDAY + WEEK)
    assert "MAIL THAT DID NOT ARRIVE (1)" in told
    assert "Ana Quist (ana@alder.example) - RCPT: 5.1.1 no such user" in told
    assert f"dueward outbox --retry {row.key[:8]}" in told


def test_who_is_away_without_a_deputy_is_told_to_the_consultant(fleet: SqlStore) -> None:
    away = Absence(email=BIRCH_LEAD, from_on=MONDAY, to_on=MONDAY + 4 * DAY)
    change(fleet, away, at=at(MONDAY, "05:00"))
    Minutes(fleet).tick()
    Minutes(fleet).tick(at(MONDAY))

    told = text_of(fleet, CONSULTANT, Kind.CONSULTANT, MONDAY)
    assert "AWAY WITHOUT A DEPUTY (1)" in told
    assert "Ben Orr (ben@birch.example) - Away until Fri 4 Dec 2026" in told


def test_a_deputy_is_told_for_whom(fleet: SqlStore) -> None:
    away = Absence(email=LEAD, from_on=MONDAY, to_on=MONDAY + 4 * DAY, deputy=BIRCH_LEAD)
    change(fleet, away, at=at(MONDAY, "05:00"))
    Minutes(fleet).tick()
    Minutes(fleet).tick(at(MONDAY))

    told = text_of(fleet, BIRCH_LEAD, Kind.SITE_LEAD, MONDAY)
    assert "You also get this for Ana Quist, who is away until Fri 4 Dec 2026." in told


def test_charts_too_large_for_a_mail_are_named_and_not_kept_as_prints(
    fleet: SqlStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleet.services.mailing.letters.MOST_BYTES", 1000)
    Minutes(fleet).until(at(MONDAY + DAY, "12:00"), dt.timedelta(hours=1))

    told = text_of(fleet, LEAD, Kind.NEW_CHARTS, MONDAY + DAY)
    assert "dueward chart --missing --site alder --year 2027 --out charts" in told
    with fleet.begin() as record:
        assert record.register().prints == {}


def test_no_chart_is_printed_for_a_mail_whose_day_is_taken(
    fleet: SqlStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another process sends by hand between the look and the plan."""
    Minutes(fleet).tick()
    whole = Letters.new_charts
    drawn: list[str] = []

    def counted(self: Letters, reader: object, *rest: object) -> object:
        drawn.append("charts")
        return whole(self, reader, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(Letters, "new_charts", counted)
    monkeypatch.setattr("fleet.services.mailing.plan.Planner._is_settled", lambda *_: True)
    Minutes(fleet).tick(at(MONDAY + DAY))

    assert drawn == []


@pytest.mark.parametrize("count", [3])
def test_planners_at_the_same_moment_plan_each_mail_once(store: SqlStore, count: int) -> None:
    a_fleet(store)
    Minutes(store).tick()
    gate, planned = Barrier(count), list[int]()

    def run() -> None:
        gate.wait()
        planned.append(Minutes(store).tick(at(MONDAY)).planned)

    threads = [Thread(target=run) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sum(planned) == len(sent_rows(store)) == 4


def test_old_mail_loses_its_bytes_once_a_day(fleet: SqlStore) -> None:
    minutes = Minutes(fleet, at(MONDAY - DAY, "06:00"))
    minutes.until(at(MONDAY, "07:00"), dt.timedelta(hours=1))
    for one in fleet.outbox.claim("me", 20, minutes.now, minutes.now + DAY, 0):
        sent = Settled(state=State.SENT, at=minutes.now, code=250, answer="taken")
        fleet.outbox.settle("me", one.key, sent)
    keys = [row.key for row in sent_rows(fleet)]

    for weeks in range(1, 16):
        minutes.tick(at(MONDAY + weeks * WEEK, "12:00"))
    with fleet.begin() as record:
        assert [record.mail.content(key) for key in keys] == [None] * 4
        assert len(record.mail.rows((State.SENT,))) == 4
