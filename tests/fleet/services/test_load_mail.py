"""Rows that say when mail goes are refused where they contradict each other or nobody is meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from fleet.domain.mail_times import MailSetting
from fleet.services.mail_settings import SETTINGS, mail_times, wrong_setting
from notifications.messages import Kind
from tests.fakes import FakeStore
from tests.fleet.services.load_files import loaded, refusal, write_fleet

HEAD = "email,from,to,deputy\n"


@pytest.mark.parametrize(
    ("table", "text", "messages"),
    [
        (
            "absences",
            f"{HEAD}nobody@agency.example,2026-03-02,2026-03-06,\n",
            [
                "absences.csv row 2, email: nobody has the address 'nobody@agency.example'; add it"
                " to people, or correct the address"
            ],
        ),
        (
            "absences",
            f"{HEAD}east@agency.example,2026-03-02,2026-03-06,nobody@agency.example\n",
            [
                "absences.csv row 2, deputy: nobody has the address 'nobody@agency.example'; add it"
                " to people, or correct the address"
            ],
        ),
        (
            "absences",
            f"{HEAD}east@agency.example,2026-03-06,2026-03-02,\n",
            [
                "absences.csv row 2, to: 2026-03-02 is before from 2026-03-06; check both dates;"
                " both are included"
            ],
        ),
        (
            "absences",
            f"{HEAD}east@agency.example,2026-03-02,2026-03-06,east@agency.example\n",
            [
                "absences.csv row 2, deputy: the deputy is the one who is away; name somebody else,"
                " or leave it empty"
            ],
        ),
        (
            "absences",
            f"{HEAD}east@agency.example,2026-03-02,2026-03-06,\n"
            "east@agency.example,2026-03-06,2026-03-09,\n",
            [
                "absences.csv row 3, from: east@agency.example is away from 2026-03-06, and from"
                " 2026-03-02 to 2026-03-06 already; write them as one absence, or correct the dates"
            ],
        ),
        (
            "quiet_periods",
            "site,from,to,reason\nelm,2026-12-24,2026-12-31,x\n",
            ["quiet_periods.csv row 2, site: no site 'elm'; add it to sites, or correct its name"],
        ),
        (
            "mail_settings",
            "name,value\nsend_a,06:30\n",
            ["mail_settings.csv row 2, name: there is no setting 'send_a'; write send_at"],
        ),
        (
            "mail_settings",
            "name,value\nsend_at,02:59\n",
            [
                "mail_settings.csv row 2, value: '02:59' is no value of send_at; write a time from"
                " 03:00 to 23:59, as 07:00"
            ],
        ),
    ],
)
def test_a_row_that_cannot_be_is_told_with_its_place_and_the_mend(
    tmp_path: Path, table: str, text: str, messages: list[str]
) -> None:
    assert refusal(FakeStore(), write_fleet(tmp_path, **{table: text})) == messages


def test_an_absence_that_overlaps_a_stored_one_is_refused(tmp_path: Path) -> None:
    store = FakeStore()
    loaded(store, write_fleet(tmp_path))
    path = tmp_path / "absences.csv"
    path.write_text(f"{HEAD}east@agency.example,2026-03-05,2026-03-09,\n")

    assert refusal(store, path) == [
        "absences.csv row 2, from: east@agency.example is away from 2026-03-05, and from 2026-03-02"
        " to 2026-03-06 already; write them as one absence, or correct the dates"
    ]


@pytest.mark.parametrize("name", SETTINGS)
def test_every_default_is_a_value_that_may_be_written(name: str) -> None:
    default = SETTINGS[name].default or SETTINGS["send_at"].default

    assert wrong_setting(MailSetting(name=name, value=default)) is None
    assert SETTINGS[name].form.startswith("write ")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("weekday", "monday"),
        ("weekday", "0"),
        ("send_at", "7:00"),
        ("send_at", "24:00"),
        ("send_at", ""),
        ("new_charts_on", "02-30"),
        ("new_charts_on", "12-1"),
        ("late_days", "-1"),
        ("late_days", "32"),
        ("ladder_manager_days", "1.5"),
        ("keep_mail_days", "6"),
        ("news", "maybe"),
        ("per_minute", "many"),
    ],
)
def test_other_values_are_not(name: str, value: str) -> None:
    assert wrong_setting(MailSetting(name=name, value=value)) == (
        "value",
        f"'{value}' is no value of {name}",
        SETTINGS[name].form,
    )


def test_a_role_without_an_hour_of_its_own_has_that_of_all() -> None:
    times = mail_times(
        [
            MailSetting(name="send_at", value="06:30"),
            MailSetting(name="send_at_manager", value="16:00"),
            MailSetting(name="ladder_consultant_days", value="5"),
        ]
    )

    assert {kind.value: f"{at:%H:%M}" for kind, at in times.send_at.items()} == {
        "site_lead": "06:30",
        "gaps": "06:30",
        "new_charts": "06:30",
        "news": "06:30",
        "consultant": "06:30",
        "manager": "16:00",
    }
    assert (times.ladder_consultant_days, times.ladder_manager_days) == (5, 21)
    assert mail_times([]).send_at[Kind.MANAGER].hour == 7
