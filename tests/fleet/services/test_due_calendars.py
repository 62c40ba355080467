"""Which holidays, closures and patterns does a site's calendar hold (design 4.2)?"""

from __future__ import annotations

import datetime as dt

from fleet.domain.records import Closure, Holiday, Pattern, RegisterRecord, Site
from fleet.domain.register import Register
from fleet.services.calendars import CalendarMaker, weekdays
from fleet.services.ports import HolidayYear
from schedules.calendars import Closed, SiteCalendar
from tests.outside import day


def a_site(name: str, subdivision: str = "NE", country: str = "US") -> Site:
    return Site(
        site=name, name=name, county="Cherry", region="West", country=country,
        subdivision=subdivision, time_zone="America/Chicago", open_days="Mon Tue Wed Thu Fri",
    )  # fmt: skip


ALDER = a_site("Alder")


def a_holiday(on: str, name: str, site: str = "", subdivision: str = "NE") -> Holiday:
    return Holiday(site=site, country="US", subdivision=subdivision, on=day(on), name=name)


class OneDayAYear:
    """A library whose years have one holiday each; it remembers what it was asked."""

    def __init__(self) -> None:
        self.asked: list[int] = []

    def year(self, country: str, subdivision: str, year: int) -> HolidayYear:
        self.asked.append(year)
        names = {dt.date(year, 6, 1): "of the library"}
        return HolidayYear(country, subdivision, year, names, "a test")

    def knows(self, country: str, subdivision: str) -> bool:
        return True


def a_calendar(
    *records: RegisterRecord,
    site: Site = ALDER,
    snapshot: tuple[HolidayYear, ...] = (),
    library: OneDayAYear | None = None,
) -> SiteCalendar:
    tables: dict[str, dict[tuple[str, ...], RegisterRecord]] = {}
    for record in records:
        tables.setdefault(f"{type(record).__name__.lower()}s", {})[record.key] = record
    register = Register(sites={site.key: site}, **tables)  # type: ignore[arg-type]
    return CalendarMaker(register, snapshot, library or OneDayAYear()).calendar(site, 2025, 2027)


def holidays(calendar: SiteCalendar) -> dict[str, str]:
    return {on.isoformat(): name for on, name in calendar.holidays.items()}


def test_years_that_nobody_stated_are_those_of_the_library() -> None:
    assert holidays(a_calendar()) == {
        f"{year}-06-01": "of the library" for year in (2025, 2026, 2027)
    }


def test_a_stored_year_stands_whatever_the_library_says_now() -> None:
    stored = HolidayYear("US", "NE", 2026, {day("2026-04-24"): "Arbor Day"}, "stored")
    elsewhere = HolidayYear("US", "KS", 2025, {day("2025-01-29"): "Kansas Day"}, "stored")
    library = OneDayAYear()

    calendar = a_calendar(snapshot=(stored, elsewhere), library=library)

    assert holidays(calendar) == {
        "2025-06-01": "of the library",
        "2026-04-24": "Arbor Day",
        "2027-06-01": "of the library",
    }
    assert library.asked == [2025, 2027]


def test_a_holidays_file_replaces_its_year_entirely_and_the_sites_own_wins() -> None:
    calendar = a_calendar(
        a_holiday("2026-07-03", "of the state"),
        a_holiday("2026-09-07", "of the state"),
        a_holiday("2027-07-05", "of the state"),
        a_holiday("2026-05-05", "of the site", site="Alder"),
        a_holiday("2025-05-05", "of another site", site="Birch"),
        a_holiday("2025-01-29", "of another state", subdivision="KS"),
        snapshot=(HolidayYear("US", "NE", 2026, {day("2026-04-24"): "Arbor Day"}, "stored"),),
    )

    assert holidays(calendar) == {
        "2025-06-01": "of the library",
        "2026-05-05": "of the site",
        "2027-07-05": "of the state",
    }


def test_closures_of_all_sites_are_closures_of_each_and_an_opening_beats_them() -> None:
    calendar = a_calendar(
        Closure(site="", from_on=day("2026-03-02"), to_on=day("2026-03-06"), reason="flood"),
        Closure(site="Birch", from_on=day("2026-03-09"), to_on=day("2026-03-09"), reason="other"),
        Closure(site="Alder", from_on=day("2026-03-10"), to_on=day("2026-03-10"), reason="audit"),
        Closure(site="Alder", from_on=day("2026-03-04"), to_on=day("2026-03-04"), reason="count",
                open=True),
    )  # fmt: skip

    week = [calendar.why_closed(dt.date(2026, 3, n)) for n in (2, 4, 6, 9, 10)]
    assert week == [
        Closed("closure", "flood"), None, Closed("closure", "flood"), None,
        Closed("closure", "audit"),
    ]  # fmt: skip


def test_a_pattern_of_the_site_follows_its_open_days() -> None:
    calendar = a_calendar(
        Pattern(site="Alder", from_on=day("2026-03-09"), open_days="Tue Thu"),
        Pattern(site="Alder", from_on=day("2026-03-04"), open_days="Sat"),
        Pattern(site="Birch", from_on=day("2026-03-01"), open_days="Sun"),
    )

    march = [n for n in range(1, 15) if calendar.why_closed(dt.date(2026, 3, n)) is None]
    assert march == [2, 3, 7, 10, 12]


def test_weekdays_are_numbered_from_monday() -> None:
    assert weekdays("Mon Sun") == {0, 6}
    assert weekdays("Tue Wed Thu Fri Sat") == {1, 2, 3, 4, 5}
