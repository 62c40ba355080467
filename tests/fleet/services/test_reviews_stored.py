"""Do reviews hold on both databases, with what is read back from them?"""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

from fleet.domain.chain import root_of
from fleet.domain.records import Entry, Mark, Person, Role, Site, Unit
from fleet.domain.register import Change
from fleet.services.kept import rebuild
from fleet.services.mailing.digest_run import digest_run, sealed_root
from fleet.services.ports import Stamp
from fleet.services.questions import Question
from fleet.services.reviews import ReviewRow, review, review_rows
from fleet.storage import SqlStore
from notifications.settings import Settings
from tests.fleet.services.audit_fleet import BOOK
from tests.reference.bridge import NoPublicHolidays

SITE = Site(
    site="alder",
    name="Alder Creek",
    county="Adams",
    region="North",
    country="US",
    subdivision="NE",
    time_zone="America/Chicago",
    open_days="Mon Tue Wed Thu Fri",
)
UNIT = Unit(
    property_number="A-1",
    kind="microscope",
    manufacturer="Exemplar",
    model="M1",
    serial="1",
    site="alder",
    in_service_on=dt.date(2026, 1, 5),
)
MANAGER = Person(email="max@lab.example", name="Max Orr", role=Role.MANAGER)
MONDAY = dt.datetime(2026, 3, 2, 18, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)


def stamp(at: dt.datetime) -> Stamp:
    return Stamp(at, "command:noor", "command")


def filled(store: SqlStore) -> None:
    """A site, a unit and a manager."""
    new = [Change(old=None, new=record, initial=True) for record in (SITE, UNIT, MANAGER)]
    with store.begin(write=True) as record:
        record.change(new, stamp(MONDAY))
        record.add_book(BOOK, "0" * 64, True, stamp(MONDAY))
        record.commit()


def signed(store: SqlStore, at: dt.datetime, **how: Any) -> ReviewRow:
    with store.begin(write=True) as record:
        words = {"by": "Noor", "anyway": True, **how}
        row = review(record, NoPublicHolidays(), "alder", "2026-02", stamp=stamp(at), **words)
        record.commit()
    return row


def marked(store: SqlStore, key: str, at: dt.datetime, **entry: Any) -> None:
    made = Entry(key=key, property_number="A-1", task="optics", on=dt.date(2026, 2, 26), **entry)
    with store.begin(write=True) as record:
        record.append([made], stamp(at))
        rebuild(record, list(record.unit_ids().values()), NoPublicHolidays())
        record.commit()


def states(store: SqlStore, known_at: dt.datetime | None = None) -> list[tuple[str, str | None]]:
    with store.begin() as record:
        question = Question(now=MONDAY + 9 * HOUR, known_at=known_at)
        rows = review_rows(record, NoPublicHolidays(), "2026-02", "2026-02", question)
    return [(row.state, row.touched_by) for row in rows]


def test_a_month_is_signed_reopened_and_signed_anew(store: SqlStore) -> None:
    filled(store)
    marked(store, "before", MONDAY, mark=Mark.DONE)
    signed(store, MONDAY)
    assert states(store) == [("signed", None)]

    marked(store, "strike", MONDAY + HOUR, strikes="before", why="wrong unit")
    assert states(store) == [("reopened", "strike")]
    assert states(store, known_at=MONDAY) == [("signed", None)]

    again = signed(store, MONDAY + 2 * HOUR, returned_on=dt.date(2026, 3, 2))
    assert (again.state, again.signed_at) == ("signed", MONDAY + 2 * HOUR)
    assert states(store) == [("signed", None)]

    retired = dataclasses.replace(UNIT, retired_on=dt.date(2026, 2, 27))
    with store.begin(write=True) as record:
        record.change([Change(old=UNIT, new=retired, initial=False)], stamp(MONDAY + 3 * HOUR))
        record.commit()
    assert states(store) == [("reopened", "register")]
    assert states(store, known_at=MONDAY + HOUR) == [("reopened", "strike")]


def test_only_entries_stored_after_an_instant_are_read(store: SqlStore) -> None:
    filled(store)
    for hour in range(3):
        marked(store, f"k-{hour}", MONDAY + hour * HOUR, mark=Mark.DONE)

    with store.begin() as record:
        later = [line.entry.key for line in record.entries(stored_after=MONDAY)]
        none = list(record.entries(stored_after=MONDAY + 2 * HOUR))

    assert (later, none) == (["k-1", "k-2"], [])


def test_the_digest_of_a_sealed_root_bears_that_root(store: SqlStore) -> None:
    filled(store)
    with store.begin(write=True) as record:
        root = sealed_root(record, (), stamp(MONDAY))
        record.commit()
    assert root is not None
    signed(store, MONDAY + HOUR)

    with store.begin() as record:
        question = Question(now=MONDAY + HOUR, on=MONDAY.date())
        settings = Settings()
        ask = (record, NoPublicHolidays(), question, MONDAY.date(), settings, (Role.MANAGER,))
        of_seal, _ = digest_run(*ask, root)
        of_now, _ = digest_run(*ask)
        now = root_of(record.heads())

    groups = [root.root[at : at + 16] for at in range(0, 64, 16)]
    assert all(group in of_seal.messages[0].text for group in groups)
    assert root.root != now
    assert now[:16] in of_now.messages[0].text
