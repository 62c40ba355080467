"""Does only what has outlived its retention go, and is it said of the rest why it stays?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleet.domain.evidence import Action, Attachment, ServiceReport
from fleet.domain.records import Entry, Mark, Placement, RegisterRecord, Site, Unit
from fleet.domain.register import Change
from fleet.errors import BadInput, NotFound
from fleet.services.disposal import DisposalRow, dispose, plan_disposal
from fleet.services.ports import Stamp
from fleet.services.retention import last_outlived_on
from tests.fakes import FakeRecord

FIVE_YEARS = """
[kind.microscope]
name = "Bench microscope"
[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces"
each = "open-day"
source = "common practice, no source"

[kind.freezer]
name = "Freezer"
retention = "P5Y"
[[kind.freezer.rule]]
task = "temperature"
title = "Read it"
each = "open-day"
source = "common practice, no source"
"""
SITE = Site(
    site="alder",
    name="Alder Creek",
    county="Cass",
    region="East",
    country="US",
    subdivision="NE",
    time_zone="America/Chicago",
    open_days="Mon Tue Wed Thu Fri",
)
FAR = dt.date(2099, 1, 1)
LOADED = Stamp(dt.datetime(2020, 1, 6, 18, tzinfo=dt.UTC), "loader", "file")


def unit(number: str, kind: str = "microscope") -> Unit:
    return Unit(
        property_number=number,
        kind=kind,
        manufacturer="",
        model="",
        serial="",
        site="alder",
        in_service_on=dt.date(2020, 1, 6),
    )


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def noon(text: str) -> dt.datetime:
    """Noon in Chicago in winter."""
    return dt.datetime.combine(day(text), dt.time(18), dt.UTC)


def change(record: FakeRecord, *new: RegisterRecord, stamp: Stamp = LOADED) -> None:
    record.change([Change(old=None, new=one, initial=False) for one in new], stamp)


def fleet(*units: Unit) -> FakeRecord:
    record = FakeRecord()
    change(record, SITE, *(units or (unit("M-1"),)))
    record.add_book(FIVE_YEARS, "0" * 64, True, LOADED)
    return record


def write(
    record: FakeRecord,
    key: str,
    on: str,
    *,
    number: str = "M-1",
    to: str | None = None,
    stored: str | None = None,
    strikes: str = "",
) -> None:
    """An entry that is stored at noon of its last day, unless another day is given."""
    entry = Entry(
        key=key,
        property_number=number,
        task="optics",
        on=day(on),
        to_on=None if to is None else day(to),
        mark=Mark.DONE,
        initials="GR",
        note="a word",
        strikes=strikes,
        why="slip" if strikes else "",
    )
    record.append([entry], Stamp(noon(stored or to or on), "bench", "command"))


def planned(record: FakeRecord, today: str, before_on: dt.date = FAR) -> list[str]:
    return plan_disposal(record, before_on, noon(today)).keys


# Retention (42 CFR 493.1105(a)(3) as in the retention table of a state's health department: a
# record of 2024-11-26 is retained through 2026-11-26).


@pytest.mark.parametrize(
    ("today", "goes"),
    [("2026-11-25", False), ("2026-11-26", False), ("2026-11-27", True)],
)
def test_a_record_is_kept_through_the_day_two_years_later(today: str, goes: bool) -> None:
    record = fleet()
    write(record, "one", "2024-11-26")

    assert planned(record, today) == (["one"] if goes else [])


@pytest.mark.parametrize(
    ("on", "months", "kept_through"),
    [
        ("2024-11-26", 24, "2026-11-26"),
        ("2024-02-29", 24, "2026-02-28"),
        ("2024-02-28", 24, "2026-02-28"),
        ("2023-08-31", 30, "2026-02-28"),
        ("2021-11-26", 60, "2026-11-26"),
        ("2023-12-31", 24, "2025-12-31"),
    ],
)
def test_the_last_outlived_day_turns_after_the_last_day_kept(
    on: str, months: int, kept_through: str
) -> None:
    """Check value A-08, and the clamping of design 4.1."""
    last = day(kept_through)

    assert last_outlived_on(last, months) < day(on)
    assert last_outlived_on(last + dt.timedelta(days=1), months) >= day(on)


def test_the_days_that_may_go_never_shrink() -> None:
    days = [day("2023-12-01") + dt.timedelta(days=n) for n in range(1500)]
    limits = [last_outlived_on(today, 24) for today in days]

    assert limits == sorted(limits)
    assert all(limit < today for limit, today in zip(limits, days, strict=True))


def test_the_day_is_that_of_the_site() -> None:
    record = fleet()
    write(record, "one", "2024-11-26")

    at_five = dt.datetime(2026, 11, 27, 5, 59, tzinfo=dt.UTC)
    at_six = dt.datetime(2026, 11, 27, 6, 0, tzinfo=dt.UTC)

    assert plan_disposal(record, FAR, at_five).keys == []
    assert plan_disposal(record, FAR, at_six).keys == ["one"]


def test_a_kind_with_a_longer_retention_is_kept_longer() -> None:
    """Check value A-24: of two rules the longer wins; A-11: five years are accepted."""
    record = fleet(unit("M-1"), unit("F-1", "freezer"))
    write(record, "microscope", "2021-11-26")
    write(record, "freezer", "2021-11-26", number="F-1")

    assert planned(record, "2026-11-26") == ["microscope"]
    assert sorted(planned(record, "2026-11-27")) == ["freezer", "microscope"]


def test_a_span_goes_by_its_last_day_and_an_entry_by_the_day_it_became_known() -> None:
    record = fleet()
    write(record, "span", "2024-11-20", to="2024-11-27")
    write(record, "late", "2024-11-20", stored="2024-11-27")
    write(record, "prompt", "2024-11-26")

    assert planned(record, "2026-11-27") == ["prompt"]
    assert planned(record, "2026-11-28") == ["span", "late", "prompt"]


def test_only_what_is_dated_before_the_day_goes() -> None:
    record = fleet()
    write(record, "one", "2024-01-01")
    write(record, "two", "2024-01-02")

    assert planned(record, "2026-11-27", day("2024-01-02")) == ["one"]


def test_a_correction_and_what_it_strikes_go_together() -> None:
    record = fleet()
    write(record, "wrong", "2024-11-20")
    write(record, "alone", "2024-11-21")
    write(record, "right", "2024-11-20", stored="2024-12-20", strikes="wrong")
    write(record, "again", "2024-11-20", stored="2025-01-20", strikes="right")

    assert planned(record, "2026-11-27") == ["alone"]
    assert planned(record, "2027-01-20") == ["alone"]
    assert sorted(planned(record, "2027-01-21")) == ["again", "alone", "right", "wrong"]


# What is held.

OPEN = Action(
    number="A",
    site="alder",
    property_number="M-1",
    opened_on=day("2024-01-01"),
    problem="it drifts",
)


@pytest.mark.parametrize(
    ("action", "stays"),
    [
        (OPEN, {"one"}),
        (replace(OPEN, property_number="", entry="one"), {"one", "two", "three"}),
        (replace(OPEN, property_number="", site="birch"), {"three"}),
        (replace(OPEN, property_number="M-2", entry="one", site="birch"), {"one", "two"}),
        (replace(OPEN, closed_on=day("2024-02-01")), set()),
    ],
    ids=["of a unit", "of a site", "of a site a unit moved to", "with an entry", "closed"],
)
def test_nothing_of_a_unit_in_an_open_action_goes(action: Action, stays: set[str]) -> None:
    record = fleet(unit("M-1"), unit("M-2"), unit("M-3"))
    change(record, replace(SITE, site="birch"), action)
    moved = Placement(property_number="M-3", site="birch", from_on=day("2023-01-02"))
    change(record, moved)
    for number, key in (("M-1", "one"), ("M-2", "two"), ("M-3", "three")):
        write(record, key, "2024-01-02", number=number)

    plan = plan_disposal(record, FAR, noon("2026-11-27"))

    assert {"one", "two", "three"} - set(plan.keys) == stays
    assert plan.rows[0].kept_open_action == len(stays)


def test_nothing_goes_of_a_kind_that_the_book_does_not_know() -> None:
    record = fleet(unit("X-1", "kiln"))
    write(record, "one", "2021-01-04", number="X-1")

    plan = plan_disposal(record, FAR, noon("2026-11-27"))

    assert (plan.keys, plan.rows[0].retention, plan.rows[0].kept_in_retention) == ([], None, 1)


# Certificates.


def attach(
    record: FakeRecord, on: str, content: str, *, stored: str | None = None, number: str = "M-1"
) -> ServiceReport:
    sha256 = content * 64
    at = Stamp(noon(stored or on), "bench", "command")
    record.attach(Attachment(sha256, "report.pdf", "application/pdf", 1), content.encode(), at)
    report = ServiceReport(property_number=number, task="service", on=day(on), certificate=sha256)
    change(record, report, stamp=at)
    return report


def files(record: FakeRecord, today: str, before_on: dt.date = FAR) -> list[str]:
    return [sha[0] for sha in plan_disposal(record, before_on, noon(today)).files]


def test_a_certificate_goes_with_the_retention_of_its_report() -> None:
    record = fleet(unit("M-1"), unit("F-1", "freezer"))
    attach(record, "2024-11-26", "a")
    attach(record, "2024-11-20", "b", stored="2024-12-20")
    attach(record, "2024-11-26", "c", number="F-1")

    assert files(record, "2026-11-26") == []
    assert files(record, "2026-11-27") == ["a"]
    assert files(record, "2026-12-21") == ["a", "b"]
    assert files(record, "2029-12-21") == ["a", "b", "c"]
    assert files(record, "2029-12-21", day("2024-11-26")) == ["b"]


def test_a_certificate_that_a_younger_report_names_stays() -> None:
    record = fleet(unit("M-1"), unit("M-2"))
    attach(record, "2024-11-20", "a")
    attach(record, "2025-11-20", "a", number="M-2")
    first = attach(record, "2024-11-19", "b")
    new = replace(first, findings="a word more")
    later = Stamp(noon("2025-01-20"), "bench", "command")
    record.change([Change(old=first, new=new, initial=False)], later)

    plan = plan_disposal(record, FAR, noon("2026-11-27"))

    assert plan.files == []
    assert plan.rows[0].kept_certificates == 2
    assert files(record, "2027-01-21") == ["b"]


# The act.


def test_the_report_counts_what_goes_and_why_the_rest_stays() -> None:
    record = fleet()
    write(record, "goes", "2024-01-02")
    write(record, "goes too", "2024-11-26")
    write(record, "young", "2025-01-02")
    write(record, "late", "2024-01-03", stored="2025-01-02")
    write(record, "struck", "2024-01-04")
    write(record, "strikes", "2024-01-04", stored="2025-01-02", strikes="struck")
    attach(record, "2024-01-05", "a")

    assert plan_disposal(record, day("2026-01-01"), noon("2026-11-27")).rows == [
        DisposalRow(
            kind="microscope",
            retention="P2Y",
            entries=2,
            entries_until=day("2024-11-26"),
            certificates=1,
            certificates_until=day("2024-01-05"),
            kept_in_retention=1,
            kept_recorded_later=2,
            kept_with_correction=1,
            kept_open_action=0,
            kept_certificates=0,
            removed_before=0,
        )
    ]


def test_what_was_removed_is_not_removed_again() -> None:
    record = fleet()
    write(record, "one", "2024-01-02")
    attach(record, "2024-01-05", "a")
    stamp = Stamp(noon("2026-11-27"), "owner", "command")
    dispose(record, plan_disposal(record, FAR, stamp.at), " yearly ", stamp)

    again = plan_disposal(record, FAR, stamp.at)

    assert (again.keys, again.files, again.rows[0].removed_before) == ([], [], 1)
    entry = record.written["one"].entry
    assert (entry.initials, entry.note, entry.mark) == ("", "", Mark.DONE)


def test_only_the_kinds_named_go_and_an_unknown_one_is_refused() -> None:
    record = fleet(unit("M-1"), unit("F-1", "freezer"))
    write(record, "microscope", "2020-11-26")
    write(record, "freezer", "2020-11-26", number="F-1")

    assert plan_disposal(record, FAR, noon("2026-11-27"), ["freezer"]).keys == ["freezer"]
    with pytest.raises(NotFound) as refused:
        plan_disposal(record, FAR, noon("2026-11-27"), ["fridge"])
    assert str(refused.value) == "no kind 'fridge'; the units are of: freezer, microscope"


@pytest.mark.parametrize(
    ("why", "message"),
    [
        (" ", "dispose, why: no reason is given; say why with --why"),
        (
            "a\x07",
            "dispose, why: 'a\\x07' holds the control character U+0007; take it out;"
            " write plain text",
        ),
    ],
)
def test_nothing_goes_without_a_reason(why: str, message: str) -> None:
    record = fleet()
    write(record, "one", "2024-01-02")
    stamp = Stamp(noon("2026-11-27"), "owner", "command")

    with pytest.raises(BadInput) as refused:
        dispose(record, plan_disposal(record, FAR, stamp.at), why, stamp)

    assert str(refused.value) == message
    assert record.written["one"].entry.initials == "GR"
