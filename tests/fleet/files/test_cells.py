"""What a cell's text means, and what is said of one that means nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from fleet.domain.records import Mark, Role
from fleet.files import cells
from fleet.files.places import country_code, subdivision_code

ROLES, MARKS = cells.choice(Role, "role"), cells.choice(Mark, "mark")


@pytest.mark.parametrize(
    ("read", "text", "meaning"),
    [
        (cells.civil_date, "2024-02-29", dt.date(2024, 2, 29)),
        (cells.civil_date, "1950-01-01", dt.date(1950, 1, 1)),
        (cells.civil_date, "2099-12-31", dt.date(2099, 12, 31)),
        (cells.instant, "2026-03-02T14:05:00Z", dt.datetime(2026, 3, 2, 14, 5, tzinfo=dt.UTC)),
        (cells.instant, "2026-03-02T08:05-06:00", dt.datetime(2026, 3, 2, 14, 5, tzinfo=dt.UTC)),
        (cells.instant, "2026-03-02 14:05+00:00", dt.datetime(2026, 3, 2, 14, 5, tzinfo=dt.UTC)),
        (cells.open_days, "Fri Tue", "Tue Fri"),
        (cells.reading, "-20", "-20"),
        (cells.reading, "04.50", "04.50"),
        (cells.coordinate(180), "-98.5013", -98.5013),
        (cells.email, "Lead@County-Labs.EXAMPLE", "Lead@county-labs.example"),
        (cells.time_zone, "America/Denver", "America/Denver"),
        (ROLES, "site lead", Role.SITE_LEAD),
        (MARKS, "unused", Mark.UNUSED),
        (cells.yes_or_no, "no", False),
        (cells.text(64), "🔬-7", "🔬-7"),
        (cells.text(64), "=1+1", "=1+1"),
        (cells.prose(64), "one\r\ntwo", "one\ntwo"),
        (country_code, "us", "US"),
        (country_code, "USA", "US"),
        (lambda word: subdivision_code("US", word), "us-ne", "NE"),
        (lambda word: subdivision_code("US", word), "nebraska", "NE"),
    ],
)
def test_a_cell_is_read(read: Callable[[str], object], text: str, meaning: object) -> None:
    assert read(text) == meaning


@pytest.mark.parametrize(
    ("read", "text", "message"),
    [
        (cells.civil_date, "31/02/2026", "'31/02/2026' is not a date; write it as YYYY-MM-DD"),
        (cells.civil_date, "2026-3-2", "'2026-3-2' is not a date; write it as YYYY-MM-DD"),
        (cells.civil_date, "46082", "'46082' is not a date; write it as YYYY-MM-DD"),
        (
            cells.civil_date,
            "2026-02-31",
            "'2026-02-31' is no day of the calendar; check its month and day (YYYY-MM-DD)",
        ),
        (
            cells.civil_date,
            "1026-03-02",
            "'1026-03-02' lies outside the years 1950 to 2099; check the year",
        ),
        (
            cells.civil_date,
            "9999-12-31",
            "'9999-12-31' lies outside the years 1950 to 2099; check the year;"
            " where there is no date yet, leave the cell empty",
        ),
        (
            cells.instant,
            "2026-03-02T14:05:00",
            "'2026-03-02T14:05:00' has no time zone;"
            " write date, time and zone, as 2026-03-02T14:05:00Z or 2026-03-02T08:05:00-06:00",
        ),
        (
            cells.instant,
            "2026-03-02",
            "'2026-03-02' is not an instant;"
            " write date, time and zone, as 2026-03-02T14:05:00Z or 2026-03-02T08:05:00-06:00",
        ),
        (
            cells.open_days,
            "Mon-Fri",
            "'Mon-Fri' is no weekday; write the open weekdays as Mon Tue Wed Thu Fri",
        ),
        (
            cells.reading,
            "4,5",
            "'4,5' is not a number; write digits with a decimal point, as 4.5 or -20",
        ),
        (
            cells.reading,
            "1e5",
            "'1e5' is not a number; write digits with a decimal point, as 4.5 or -20",
        ),
        (
            cells.coordinate(90),
            "91",
            "'91' lies outside -90 to 90; write it in decimal degrees",
        ),
        (
            cells.email,
            "lead@lab",
            "'lead@lab' is not an e-mail address (The part after the @-sign is not valid. It"
            " should have a period); write one address, as lead@lab.example",
        ),
        (
            cells.time_zone,
            "America/Chicgo",
            "'America/Chicgo' is no time zone; did you mean 'America/Chicago'?",
        ),
        (cells.time_zone, "CDT??", "'CDT??' is no time zone; write a name such as America/Chicago"),
        (MARKS, "dne", "'dne' is no mark; did you mean 'done'?"),
        (
            MARKS,
            "X",
            "'X' is no mark; write one of: done, explained, filled, unused",
        ),
        (cells.language, "fr", "'fr' is no language of the program; write en or es"),
        (cells.yes_or_no, "x", "'x' is neither yes nor no; write yes, or leave it empty"),
        (
            cells.text(64),
            "PN\x0710",
            r"'PN\x0710' holds the control character U+0007;"
            " take it out; write plain text",
        ),
        (
            cells.text(64),
            "PN\n10",
            r"'PN\n10' holds the control character U+000A;"
            " take it out; write plain text",
        ),
        (
            cells.text(64),
            "x" * 65,
            f"'{'x' * 59}…' has 65 characters; shorten it to at most 64",
        ),
        (
            country_code,
            "Nowhere",
            "no holidays are known for country 'Nowhere'; write the ISO 3166 code, as US",
        ),
        (
            lambda word: subdivision_code("DE", word),
            "NE",
            "'NE' is no subdivision of DE; write one of: AUGSBURG, BB, BE, BW, BY, HB, HE, HH, MV,"
            " NI, NW, RP, SH, SL, SN, ST, TH",
        ),
    ],
)
def test_a_cell_without_meaning_is_told(
    read: Callable[[str], object], text: str, message: str
) -> None:
    with pytest.raises(cells.CellError) as refused:
        read(text)

    assert str(refused.value) == message
