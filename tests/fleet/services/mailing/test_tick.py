"""Each person gets each mail once, on their good day, whatever clocks and processes do."""

from __future__ import annotations

import datetime as dt

import pytest

from fleet.domain.mail_times import Absence, MailSetting, QuietPeriod
from fleet.domain.records import Closure, Person, Placement, Role
from fleet.services.mailing.tick import trust_clock
from fleet.storage import SqlStore
from notifications.messages import Kind
from notifications.outbox import State
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

DAY = dt.timedelta(days=1)
TUESDAY = MONDAY + DAY


@pytest.fixture
def fleet(store: SqlStore) -> SqlStore:
    """The small state, on either database."""
    return a_fleet(store)


def days_of(store: SqlStore, email: str, kind: Kind) -> list[tuple[str, dt.date | None]]:
    return [(row.period, row.day) for row in sent_rows(store, email) if row.kind is kind]


def reasons(store: SqlStore, email: str) -> dict[str, str]:
    with store.begin() as record:
        rows = record.mail.rows((State.SUPPRESSED,), email)
    return {f"{row.kind.value} {row.period}": row.reason for row in rows}


def test_digests_go_on_monday_at_seven_where_the_reader_is(fleet: SqlStore) -> None:
    minutes = Minutes(fleet)

    assert minutes.tick(at(MONDAY, "06:59")).planned == 0
    assert minutes.tick(at(MONDAY, "07:00")).planned == 4

    assert [(row.recipient, row.kind, row.period, row.day) for row in sent_rows(fleet)] == [
        (who, kind, "2026-W49", MONDAY)
        for who, kind in sorted(
            [
                (LEAD, Kind.SITE_LEAD),
                (BIRCH_LEAD, Kind.SITE_LEAD),
                (CONSULTANT, Kind.CONSULTANT),
                (MANAGER, Kind.MANAGER),
            ],
            key=lambda one: next(row.key for row in sent_rows(fleet) if row.recipient == one[0]),
        )
    ]


def test_a_restart_a_second_process_and_a_standing_clock_add_nothing(fleet: SqlStore) -> None:
    first, second = Minutes(fleet, at(MONDAY, "06:30")), Minutes(fleet, at(MONDAY, "06:30"))
    first.tick()
    second.tick()
    first.tick(at(MONDAY))

    assert second.tick(at(MONDAY)).planned == 0
    assert first.restarted().tick(at(MONDAY)).planned == 0
    assert first.tick(at(MONDAY)).planned == 0
    assert len(sent_rows(fleet)) == 4


def test_what_was_missed_while_the_program_was_off_goes_up_to_three_days_late(
    fleet: SqlStore,
) -> None:
    Minutes(fleet, at(MONDAY, "06:00")).tick()

    minutes = Minutes(fleet, at(MONDAY + 3 * DAY, "15:00"))
    minutes.tick()

    assert days_of(fleet, CONSULTANT, Kind.CONSULTANT) == [("2026-W49", MONDAY + 3 * DAY)]


def test_what_is_later_than_that_is_left_out_with_the_reason(fleet: SqlStore) -> None:
    Minutes(fleet, at(MONDAY, "06:00")).tick()

    Minutes(fleet).tick(at(MONDAY + 4 * DAY, "15:00"))

    assert days_of(fleet, MANAGER, Kind.MANAGER) == []
    assert reasons(fleet, MANAGER) == {
        "manager 2026-W49": "too late: the program was not running when it should have gone"
    }


def test_a_timetable_that_begins_looks_at_nothing_that_lies_behind_it(fleet: SqlStore) -> None:
    minutes = Minutes(fleet, at(MONDAY, "07:30"))
    minutes.tick()
    minutes.until(at(MONDAY, "23:30"))

    assert sent_rows(fleet) == []
    assert reasons(fleet, LEAD) == {}


def test_a_closed_monday_goes_out_on_tuesday(fleet: SqlStore) -> None:
    closed = Closure(site="alder", from_on=MONDAY, to_on=MONDAY, reason="Burst pipe")
    change(fleet, closed, at=at(MONDAY, "05:00"))
    minutes = Minutes(fleet)
    minutes.until(at(TUESDAY, "12:00"))

    assert days_of(fleet, LEAD, Kind.SITE_LEAD) == [("2026-W49", TUESDAY)]
    assert days_of(fleet, BIRCH_LEAD, Kind.SITE_LEAD) == [("2026-W49", MONDAY)]
    assert days_of(fleet, CONSULTANT, Kind.CONSULTANT) == [("2026-W49", MONDAY)]


def test_a_holiday_counts_as_closed(fleet: SqlStore) -> None:
    """Labor Day, Monday 7 September 2026 (5 U.S.C. 6103(a); the `holidays` library has it)."""
    labor_day = dt.date(2026, 9, 7)
    minutes = Minutes(fleet, at(labor_day, "05:00"))
    minutes.until(at(labor_day + DAY, "12:00"))

    assert days_of(fleet, MANAGER, Kind.MANAGER) == [("2026-W37", labor_day + DAY)]


def test_in_a_quiet_week_nothing_goes_and_the_reason_stands(fleet: SqlStore) -> None:
    quiet = QuietPeriod(site="", from_on=MONDAY, to_on=MONDAY + 6 * DAY, reason="Stocktaking")
    change(fleet, quiet, at=at(MONDAY, "05:00"))
    minutes = Minutes(fleet)
    minutes.until(at(MONDAY + 7 * DAY, "06:30"))
    assert sent_rows(fleet) == []

    minutes.until(at(MONDAY + 7 * DAY, "12:00"))
    assert reasons(fleet, LEAD)["site_lead 2026-W49"] == "no open day was left for it"
    assert days_of(fleet, LEAD, Kind.SITE_LEAD) == [("2026-W50", MONDAY + 7 * DAY)]


def test_nobody_gets_two_mails_a_day(fleet: SqlStore) -> None:
    """Somebody who leads a site and answers for a region, on the first Monday of a month."""
    both = Person(email=CONSULTANT, name="Robin Vell", role=Role.SITE_LEAD, site="birch")
    change(fleet, both, at=at(MONDAY, "05:00"))
    first = dt.date(2027, 2, 1)
    minutes = Minutes(fleet, at(first, "05:00"))
    minutes.until(at(first + 4 * DAY, "12:00"))

    rows = sent_rows(fleet, CONSULTANT)
    assert [(row.kind, row.day) for row in rows] == [
        (Kind.SITE_LEAD, first),
        (Kind.CONSULTANT, first + DAY),
    ]
    told = reasons(fleet, CONSULTANT)
    assert told["gaps 2027-01"] == "told in the digest of 2027-W05"


def test_gaps_go_by_themselves_where_no_digest_goes_that_day(fleet: SqlStore) -> None:
    minutes = Minutes(fleet)
    minutes.until(at(TUESDAY + 2 * DAY, "12:00"))

    assert days_of(fleet, LEAD, Kind.NEW_CHARTS) == [("2027", TUESDAY)]
    assert days_of(fleet, LEAD, Kind.GAPS) == [("2026-11", TUESDAY + DAY)]


def test_the_new_charts_in_a_mail_are_prints_of_the_register(fleet: SqlStore) -> None:
    minutes = Minutes(fleet)
    minutes.until(at(TUESDAY, "12:00"))

    (row,) = [row for row in sent_rows(fleet, LEAD) if row.kind is Kind.NEW_CHARTS]
    with fleet.begin() as record:
        prints = record.register().prints.values()
        content = record.mail.content(row.key)
    assert {(one.property_number, one.site, one.year) for one in prints} == {
        ("A-1", "alder", 2027),
        ("B-1", "birch", 2027),
    }
    assert content is not None
    assert b"charts-2027-alder.pdf" in content


def test_a_lead_who_is_away_is_stood_in_for(fleet: SqlStore) -> None:
    away = Absence(email=LEAD, from_on=MONDAY, to_on=MONDAY + 4 * DAY, deputy=BIRCH_LEAD)
    change(fleet, away, at=at(MONDAY, "05:00"))
    Minutes(fleet).tick()
    Minutes(fleet).tick(at(MONDAY))

    assert sent_rows(fleet, LEAD) == []
    (row,) = sent_rows(fleet, BIRCH_LEAD)
    with fleet.begin() as record:
        content = record.mail.content(row.key)
    assert content is not None
    assert b"Alder Laboratory" in content
    assert b"Birch Laboratory" in content


def test_who_is_away_without_a_deputy_gets_their_own_mail(fleet: SqlStore) -> None:
    away = Absence(email=LEAD, from_on=MONDAY, to_on=MONDAY + 4 * DAY)
    change(fleet, away, at=at(MONDAY, "05:00"))
    Minutes(fleet).tick()
    Minutes(fleet).tick(at(MONDAY))

    assert len(sent_rows(fleet, LEAD)) == 1


def test_a_moved_unit_is_told_once_to_the_lead_it_came_to(fleet: SqlStore) -> None:
    minutes = Minutes(fleet, at(MONDAY + DAY, "06:00"))
    minutes.tick()
    minutes.until(at(MONDAY + 8 * DAY, "09:00"))
    moved_on = MONDAY + 8 * DAY
    change(
        fleet,
        Placement(property_number="A-1", site="birch", from_on=moved_on),
        at=at(moved_on, "10:00"),
    )
    before = len(sent_rows(fleet))
    minutes.until(at(moved_on, "23:00"))
    assert len(sent_rows(fleet)) == before

    minutes.until(at(moved_on + 3 * DAY, "23:00"))
    news = [row for row in sent_rows(fleet) if row.kind is Kind.NEWS]
    assert [(row.recipient, row.day) for row in news] == [(BIRCH_LEAD, moved_on + DAY)]
    assert minutes.restarted().tick(at(moved_on + 4 * DAY, "12:00")).planned == 0


def test_news_of_a_digest_day_stands_in_the_digest(fleet: SqlStore) -> None:
    Minutes(fleet, at(MONDAY - 3 * DAY, "06:00")).tick()
    change(
        fleet,
        Placement(property_number="A-1", site="birch", from_on=MONDAY - 3 * DAY),
        at=at(MONDAY - 2 * DAY, "10:00"),
    )
    minutes = Minutes(fleet, at(MONDAY, "06:00"))
    minutes.until(at(MONDAY + 3 * DAY, "12:00"))

    assert [row.kind for row in sent_rows(fleet, BIRCH_LEAD)] == [
        Kind.SITE_LEAD,
        Kind.NEW_CHARTS,
        Kind.GAPS,
    ]


def test_a_clock_set_back_plans_nothing_until_it_has_caught_up(fleet: SqlStore) -> None:
    Minutes(fleet).tick(at(TUESDAY, "12:00"))

    back = Minutes(fleet).tick(at(MONDAY, "12:00"))

    assert (back.planned, len(back.remarks)) == (0, 1)
    assert back.remarks[0] == (
        "the clock says 2026-11-30 18:00 UTC, but it was 2026-12-01 18:00 already; set this"
        " machine's clock; if it is right, run dueward work --clock-is-right once"
    ).replace("18:00 already", "18:00 UTC already")
    trust_clock(fleet, at(MONDAY, "12:00"))
    assert Minutes(fleet).tick(at(MONDAY, "12:01")).remarks == []


def test_a_clock_that_leaps_by_months_plans_nothing(fleet: SqlStore) -> None:
    Minutes(fleet).tick(at(MONDAY, "06:00"))

    leap = Minutes(fleet).tick(at(MONDAY + 100 * DAY))

    assert leap.planned == 0
    assert leap.remarks[0].startswith("the clock says 2027-03-10 13:00 UTC, 14 weeks after mail")


def test_a_setting_moves_the_day_and_the_hour(fleet: SqlStore) -> None:
    settings = [
        MailSetting(name="weekday", value="wed"),
        MailSetting(name="send_at", value="16:30"),
    ]
    change(fleet, *settings, at=at(MONDAY, "05:00"))
    minutes = Minutes(fleet)
    minutes.until(at(MONDAY + 2 * DAY, "16:29"))
    assert not [row for row in sent_rows(fleet) if row.kind is Kind.MANAGER]

    minutes.tick(at(MONDAY + 2 * DAY, "16:30"))
    assert days_of(fleet, MANAGER, Kind.MANAGER) == [("2026-W49", MONDAY + 2 * DAY)]


def test_a_crash_before_the_commit_leaves_nothing(
    fleet: SqlStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    Minutes(fleet).tick()

    def fail(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("fleet.storage.record.SqlRecord.commit", fail)
        with pytest.raises(KeyboardInterrupt):
            Minutes(fleet).tick(at(MONDAY))
    with fleet.begin() as record:
        assert record.mail.rows() == []
        assert record.mail.told(LEAD) == {}
        assert list(record.seals()) == []
    assert Minutes(fleet).tick(at(MONDAY)).planned == 4
