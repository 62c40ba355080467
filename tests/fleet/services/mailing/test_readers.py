"""Who reads which mail: addresses, roles, deputies, and where it is seven o'clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import pytest

from fleet.domain.mail_times import Absence
from fleet.domain.records import Person, RegisterRecord, Role, Site
from fleet.domain.register import Register
from fleet.services.mailing.readers import readers
from notifications.facts import StandIn
from notifications.messages import Kind

NOW = dt.datetime(2026, 11, 30, 18, tzinfo=dt.UTC)
MONDAY, FRIDAY = dt.date(2026, 11, 30), dt.date(2026, 12, 4)


def site(name: str, zone: str = "America/Denver", lead: str = "") -> Site:
    return Site(
        site=name,
        name=name.title(),
        county=name,
        region="West",
        country="US",
        subdivision="NE",
        time_zone=zone,
        open_days="Mon Tue Wed Thu Fri",
        lead_email=lead,
    )


def lead(email: str, of: str = "alder", **more: str) -> Person:
    return Person(email=email, name=email[:3].title(), role=Role.SITE_LEAD, site=of, **more)


def register(people: Sequence[Person], *more: RegisterRecord) -> Register:
    sites = [one for one in more if isinstance(one, Site)] or [site("alder"), site("birch")]
    absences = [one for one in more if isinstance(one, Absence)]
    return Register(
        sites={one.key: one for one in sites},
        people={one.key: one for one in people},
        absences={one.key: one for one in absences},
    )


def away(email: str, deputy: str = "") -> Absence:
    return Absence(email=email, from_on=MONDAY, to_on=FRIDAY, deputy=deputy)


def test_two_spellings_of_a_domain_are_one_reader() -> None:
    found = readers(register([lead("ana@LAB.example"), lead("ana@lab.example", "birch")]), NOW)

    (reader,) = found.all.values()
    assert {person.site for person in reader.people[Kind.SITE_LEAD]} == {"alder", "birch"}


def test_a_site_s_lead_address_is_a_reader_without_a_row() -> None:
    found = readers(register([], site("alder", lead="ana@lab.example")), NOW)

    assert [(one.email, one.name, one.zone) for one in found.all.values()] == [
        ("ana@lab.example", "", "America/Denver")
    ]


@pytest.mark.parametrize(
    ("person", "zone"),
    [
        (lead("ana@lab.example", time_zone="America/New_York"), "America/New_York"),
        (lead("ana@lab.example"), "America/Denver"),
        (Person(email="c@lab.example", name="", role=Role.CONSULTANT, region="West"), "UTC"),
        (Person(email="m@lab.example", name="", role=Role.MANAGER), "UTC"),
        (Person(email="c@lab.example", name="", role=Role.CONSULTANT, region="East"), "UTC"),
    ],
)
def test_the_hour_is_that_of_the_person_else_the_site_else_most_sites(
    person: Person, zone: str
) -> None:
    sites = [site("alder"), site("birch", "UTC"), site("cedar", "UTC")]
    (reader,) = readers(register([person], *sites), NOW).all.values()

    assert reader.zone == zone


def test_a_deputy_reads_for_who_is_away_on_the_days_of_the_absence() -> None:
    people = [lead("ana@lab.example"), lead("ben@lab.example", "birch")]
    whole = register(people, away("ana@lab.example", "ben@lab.example"))

    (reader,) = readers(whole, NOW).all.values()
    assert reader.email == "ben@lab.example"
    assert {person.site for person in reader.people[Kind.SITE_LEAD]} == {"alder", "birch"}
    assert reader.stand_in == {Kind.SITE_LEAD: (StandIn("Ana", FRIDAY),)}
    for instant in (NOW - dt.timedelta(days=1), NOW + dt.timedelta(days=5)):
        assert set(readers(whole, instant).all) == {"ana@lab.example", "ben@lab.example"}


def test_an_absence_begins_at_midnight_where_the_person_is() -> None:
    whole = register([lead("ana@lab.example"), lead("ben@lab.example")], away("ana@lab.example"))
    before = dt.datetime(2026, 11, 30, 6, 59, tzinfo=dt.UTC)

    assert readers(whole, before).away_alone == []
    assert len(readers(whole, before + dt.timedelta(minutes=1)).away_alone) == 1


def test_the_deputy_of_the_people_file_counts_where_the_absence_names_none() -> None:
    people = [lead("ana@lab.example", deputy="ben@lab.example"), lead("ben@lab.example")]

    assert set(readers(register(people, away("ana@lab.example")), NOW).all) == {"ben@lab.example"}


def test_a_deputy_without_a_row_of_their_own_may_read_too() -> None:
    whole = register(
        [lead("ana@lab.example", language="es")], away("ana@lab.example", "cleo@lab.example")
    )
    (reader,) = readers(whole, NOW).all.values()

    assert (reader.email, reader.name, reader.language) == ("cleo@lab.example", "", "es")


def test_nobody_stands_in_for_somebody_who_stands_in() -> None:
    people = [lead("ana@lab.example"), lead("ben@lab.example"), lead("cleo@lab.example")]
    whole = register(
        people,
        away("ana@lab.example", "ben@lab.example"),
        away("ben@lab.example", "cleo@lab.example"),
    )
    found = readers(whole, NOW)

    assert set(found.all) == {"ana@lab.example", "cleo@lab.example"}
    assert [one.email for one in found.away_alone] == ["ana@lab.example"]
