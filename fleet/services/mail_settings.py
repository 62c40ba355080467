"""When does mail go, if nothing else was set? The settings of `mail_settings`, in one table."""

from __future__ import annotations

import calendar
import datetime as dt
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, Final

from fleet.domain.mail_times import MailSetting
from notifications.cadence import Cadence
from notifications.messages import Kind

__all__ = ["SETTINGS", "MailTimes", "Setting", "mail_times", "wrong_setting"]

_WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_EARLIEST: Final = dt.time(3)


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: how it stands when nothing is set, how it is read, what it means."""

    default: str
    read: Callable[[str], Any]
    form: str
    """How to write it."""
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MailTimes:
    """Every setting of the mail."""

    cadence: Cadence
    send_at: Mapping[Kind, dt.time]
    ladder_consultant_days: int
    ladder_manager_days: int
    keep_mail_days: int
    per_minute: int
    is_news_told: bool


def _weekday(value: str) -> int:
    return _WEEKDAYS.index(value.strip().casefold())


def _time(value: str) -> dt.time:
    if not re.fullmatch(r"\d\d:\d\d", value.strip()):
        raise ValueError(value)
    read = dt.time.fromisoformat(value.strip())
    if read < _EARLIEST:
        raise ValueError(value)
    return read


def _month_day(value: str) -> tuple[int, int]:
    month, day = (int(part) for part in re.fullmatch(r"(\d\d)-(\d\d)", value.strip()).groups())  # type: ignore[union-attr]
    if not (1 <= month <= 12 and 1 <= day <= calendar.monthrange(2027, month)[1]):
        raise ValueError(value)
    return month, day


def _number(least: int, most: int) -> Callable[[str], int]:
    def read(value: str) -> int:
        if not re.fullmatch(r"\d{1,6}", value.strip()) or not least <= int(value) <= most:
            raise ValueError(value)
        return int(value)

    return read


def _yes_no(value: str) -> bool:
    return {"yes": True, "no": False}[value.strip().casefold()]


def _days(default: int, least: int, most: int, meaning: str) -> Setting:
    form = f"write a whole number of days from {least} to {most}"
    return Setting(str(default), _number(least, most), form, meaning)


_TIME = "write a time from 03:00 to 23:59, as 07:00"
SETTINGS: Final[Mapping[str, Setting]] = {
    "weekday": Setting(
        "mon", _weekday, f"write one of {', '.join(_WEEKDAYS)}", "the day of the weekly digests"
    ),
    "send_at": Setting("07:00", _time, _TIME, "when mail goes, where the reader is"),
    "send_at_site_lead": Setting("", _time, _TIME, "the same for site leads; else send_at"),
    "send_at_consultant": Setting("", _time, _TIME, "the same for consultants; else send_at"),
    "send_at_manager": Setting("", _time, _TIME, "the same for managers; else send_at"),
    "new_charts_on": Setting(
        "12-01",
        _month_day,
        "write month and day, as 12-01",
        "when the charts of the next year go to the site leads",
    ),
    "ladder_consultant_days": _days(
        7, 0, 365, "so long past its limit an overdue service is the consultant's step"
    ),
    "ladder_manager_days": _days(
        21, 0, 365, "so long past its limit an overdue service is the manager's step"
    ),
    "late_days": _days(3, 0, 31, "a mail that is later than this is not sent any more"),
    "news": Setting("yes", _yes_no, "write yes or no", "tell site leads of moves and reports"),
    "keep_mail_days": _days(90, 7, 3660, "so long the text of a mail that was sent is kept"),
    "per_minute": Setting(
        "0",
        _number(0, 10_000),
        "write a whole number, 0 for no limit",
        "so many mails a minute at most to the addresses of one domain",
    ),
}
"""By name. A value that is '' by default takes that of another."""


def wrong_setting(setting: MailSetting) -> tuple[str, str, str] | None:
    """The column, what is wrong with a setting and how to mend it; None where it can be used."""
    known = SETTINGS.get(setting.name)
    if known is None:
        near = get_close_matches(setting.name, SETTINGS, 1)
        mend = f"write {near[0]}" if near else f"the settings are {', '.join(SETTINGS)}"
        return "name", f"there is no setting '{setting.name}'", mend
    try:
        known.read(setting.value)
    except (ValueError, KeyError, AttributeError):
        return "value", f"'{setting.value}' is no value of {setting.name}", known.form
    return None


def mail_times(settings: Iterable[MailSetting]) -> MailTimes:
    """Every setting as it stands; one that was not given, or cannot be read, as it comes."""
    given = {one.name: one.value for one in settings if wrong_setting(one) is None}

    def value(name: str) -> Any:  # noqa: ANN401 - each setting has a type of its own
        return SETTINGS[name].read(given.get(name, SETTINGS[name].default))

    def time_of(role: str) -> dt.time:
        name = f"send_at_{role}"
        read: dt.time = value(name if name in given else "send_at")
        return read

    lead = time_of("site_lead")
    return MailTimes(
        cadence=Cadence(
            weekday=value("weekday"),
            new_charts_on=value("new_charts_on"),
            late_days=value("late_days"),
        ),
        send_at={
            Kind.SITE_LEAD: lead,
            Kind.GAPS: lead,
            Kind.NEW_CHARTS: lead,
            Kind.NEWS: lead,
            Kind.CONSULTANT: time_of("consultant"),
            Kind.MANAGER: time_of("manager"),
        },
        ladder_consultant_days=value("ladder_consultant_days"),
        ladder_manager_days=value("ladder_manager_days"),
        keep_mail_days=value("keep_mail_days"),
        per_minute=value("per_minute"),
        is_news_told=value("news"),
    )
