"""A chart's twin can be read without seeing it: every cell says what it is, under its headers.

References are to WCAG 2.2 (W3C Recommendation, 2023).
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest

from fleet.charts.geometry import geometry_of
from fleet.charts.html import chart_html
from fleet.charts.places import places
from fleet.services.charts.facts import Face, Note, YearChart
from schedules.rules import Each
from tests.fleet.charts import charts_made as made
from tests.fleet.charts.html_read import Element, cells, read, table

CHARTS = {
    "microscope": made.microscope,
    "refrigerator": made.refrigerator,
    "issued in May": made.issued_in_may,
    "moved and marked": made.moved_and_marked,
    "data logger": made.data_logger,
    "twenty tasks": made.twenty_tasks,
}
EVERY_CHART = pytest.mark.parametrize("name", CHARTS)
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
_LARGEST_FILE = 150_000


def html_of(chart: YearChart) -> str:
    """The twin of a chart, also of one that no paper would hold."""
    return chart_html(made.printed(chart))


@cache
def page(name: str) -> Element:
    return read(twin(name))


@cache
def twin(name: str) -> str:
    return html_of(CHARTS[name]())


def year_of(root: Element, title: str, what: str = "days") -> list[str]:
    """A row's cells through all months."""
    return [text for month in MONTHS for text in cells(root, f"{month} {made.YEAR}, {what}", title)]


@EVERY_CHART
def test_the_page_has_a_language_a_title_and_headings_without_gaps(name: str) -> None:
    """WCAG 2.2: 3.1.1 language of page, 2.4.2 page titled, 1.3.1 and 2.4.6 headings."""
    root, chart = page(name), CHARTS[name]()
    levels = [int(h.tag[1]) for h in root.all("h1", "h2", "h3", "h4")]
    steps = [later - earlier for earlier, later in pairwise(levels)]

    assert next(root.all("html"))["lang"] == "en"
    assert next(root.all("title")).text == (
        f"Chart 2027: MS-0412, {chart.kind.name}, Alder Creek Family Health Laboratory"
    )
    assert (levels[0], levels.count(1)) == (1, 1)
    assert max(steps) <= 1
    assert all(h.text.strip() for h in root.all("h1", "h2", "h3", "h4"))


@EVERY_CHART
def test_every_data_cell_has_words_a_row_header_and_a_column_header(name: str) -> None:
    """WCAG 2.2: 1.3.1 info and relationships; techniques H63 (scope) and H39 (caption)."""
    found = list(page(name).all("table"))

    assert found
    for one in found:
        (head,) = one.all("thead")
        columns = list(next(head.all("tr")).all("th"))
        assert {th["scope"] for th in columns} == {"col"}
        assert next(one.all("caption")).text.strip()
        for row in next(one.all("tbody")).all("tr"):
            first, *data = row.all("th", "td")
            assert (first.tag, first["scope"]) == ("th", "row")
            assert {cell.tag for cell in data} == {"td"}
            assert len(data) == len(columns) - 1
            assert all(cell.text.strip() for cell in (first, *data))


@EVERY_CHART
def test_identifiers_are_unique_and_all_that_points_at_one_finds_it(name: str) -> None:
    """WCAG 2.2: 2.4.1 bypass blocks, 4.1.2 name, role, value."""
    elements = list(page(name).everything())
    ids = Counter(e["id"] for e in elements if e["id"])
    targets = {str(e["href"]) for e in elements if e["href"]}
    labels = {str(e["aria-labelledby"]) for e in elements if e["aria-labelledby"]}

    assert set(ids.values()) == {1}
    assert {f"#{label}" for label in labels} | targets <= {f"#{one}" for one in ids}
    assert next(e["class"] for e in elements if e.tag == "a") == "skip"


def test_each_month_has_a_link_past_its_tables_to_the_next() -> None:
    """WCAG 2.2: 2.4.1 bypass blocks; technique G123."""
    links = [a for a in page("microscope").all("a") if a["class"] == "skip"]

    assert [(a["href"], a.text) for a in links] == [
        ("#months", "Skip to the months"),
        *((f"#m{n}", f"Skip to {MONTHS[n - 1]} 2027") for n in range(2, 13)),
    ]


@EVERY_CHART
def test_the_page_is_whole_in_itself_and_runs_nothing(name: str) -> None:
    text, tags = twin(name), {e.tag for e in page(name).everything()}

    assert not tags & {"script", "link", "img", "iframe", "object", "embed", "form", "base"}
    assert not re.search(r"url\(|@import|https?:|javascript:| src=| on[a-z]+=", text)


@pytest.mark.parametrize("name", ["microscope", "issued in May", "moved and marked"])
def test_a_chart_of_up_to_eight_rows_is_150_kilobytes_at_most(name: str) -> None:
    assert len(twin(name).encode()) <= _LARGEST_FILE


def test_a_chart_of_eight_full_rows_is_150_kilobytes_at_most() -> None:
    faces = [Face("d", "JR") if f.sign == "." else f for f in made.day_faces()]
    rows = [made.day_row(f"Task {n}", faces) for n in range(7)] + [made.initials_row(faces)]

    assert len(html_of(made.year_chart(rows)).encode()) <= _LARGEST_FILE


# What the cells say.


def test_each_day_of_the_year_says_what_it_is() -> None:
    said = year_of(page("microscope"), "Wipe the stage")

    for on, text in zip(made.days_of(made.YEAR), said, strict=True):
        if on in made.HOLIDAYS:
            assert text == f"closed: {made.HOLIDAYS[on]}"
        elif on in made.CLOSED:
            assert text == "closed: flood in the lower rooms"
        else:
            assert text == {5: "Saturday", 6: "Sunday"}.get(on.weekday(), "open")


@pytest.mark.parametrize(
    ("face", "words"),
    [
        (Face("."), "open"),
        (Face(","), "over, nothing recorded"),
        (Face("d", "✓"), "done"),
        (Face("d", "AB"), "done, AB"),
        (Face("d", "4.1"), "done, reading 4.1"),
        (Face("d", "-18,5"), "done, reading -18,5"),
        (Face("u", "AB"), "not in use, AB"),
        (Face("u"), "not in use"),
        (Face("f", "✓"), "ink seen on paper"),
        (Face("e", "CD"), "explained afterwards, CD"),
        (Face("H"), "closed: holiday"),
        (Face("C"), "closed: closure"),
        (Face("O"), "out of service: stage jammed"),
        (Face("N"), "not in service yet"),
        (Face("R"), "retired"),
        (Face("B"), "before the record begins"),
        (Face("E"), "at another site"),
        (Face("X"), "not asked for then"),
    ],
)
def test_every_sign_has_words(face: Face, words: str) -> None:
    faces = (face, *made.day_faces()[1:])
    notes = ((Note(1, 3, "O", "stage jammed"),), *((),) * 11)
    root = read(html_of(made.year_chart([made.day_row("Wipe", faces)], notes=notes)))

    assert year_of(root, "Wipe")[0] == words


def test_initials_are_told_as_who_signed_or_that_nobody_did() -> None:
    faces = (Face("d", "JR/TA"), Face("d", ""), Face(","), *made.day_faces()[3:])
    wipe = [Face(".")] * 365
    root = read(html_of(made.year_chart([made.day_row("Wipe", wipe), made.initials_row(faces)])))

    told = year_of(root, "Initials")[:4]
    assert told == ["initials JR/TA", "no initials", "over, nothing recorded", "open"]


def test_where_only_dated_duties_may_be_done_no_cell_seems_to_wait() -> None:
    adjust, initials = made.on_day_row("Adjust"), made.initials_row()
    some = [Face("X")] * 181 + [*made.day_faces()[181:]]
    never = made.day_row("Oil", [Face("X")] * 365)
    root = read(html_of(made.year_chart([made.day_row("Wipe", some), never, adjust, initials])))
    adjusted, signed = Counter(year_of(root, "Adjust")), year_of(root, "Initials")
    open_days = [face.sign for face in made.day_faces()].count(".")

    assert (adjusted["only if done"], adjusted["open"]) == (open_days, 0)
    assert {"only if done", "open"} & set(signed[:181]) == {"only if done"}
    assert {"only if done", "open"} & set(signed[181:]) == {"open"}


def test_a_day_s_column_is_headed_by_its_full_date_and_shows_a_short_one() -> None:
    """WCAG 2.2: 1.3.1; the abbreviation is what a screen reader may say for each cell."""
    heads = list(next(table(page("microscope"), "May 2027, days").all("thead")).all("th"))

    assert [(th.text, th["abbr"]) for th in (heads[0], heads[1], heads[31])] == [
        ("Task", None),
        ("Saturday 1 May", "1 Sa"),
        ("Monday 31 May", "31 Mo"),
    ]


@EVERY_CHART
def test_what_is_only_drawn_by_the_style_is_in_words_too(name: str) -> None:
    """WCAG 2.2 failure F87: nothing is told by generated content alone."""
    style = next(page(name).all("style")).text
    drawn = set(re.findall(r"\.days \.(\w)::before", style))
    styles = {str(td["class"]) for td in page(name).all("td") if td["class"]}

    assert styles <= drawn
    assert drawn == set("vtufeWHCONRBEX")


def test_a_week_stands_once_in_the_month_of_its_thursday_as_on_paper() -> None:
    chart = CHARTS["microscope"]()
    own = [p for p in places(geometry_of(chart), chart.year) if p.row == 1]

    for number, month in enumerate(MONTHS, start=1):
        there = cells(page("microscope"), f"{month} 2027, weeks", "Clean the condenser")
        assert len(there) == sum(place.month == number for place in own)


@pytest.mark.parametrize(
    ("year", "month", "last"),
    [
        (2026, "January", "Week 1, 29 December to 4 January"),
        (2026, "December", "Week 53, 28 December to 3 January"),
        (2027, "January", "Week 4, 25 to 31 January"),
        (2024, "February", "Week 9, 26 February to 3 March"),
    ],
)
def test_weeks_are_those_of_iso_8601(year: int, month: str, last: str) -> None:
    """The standard's own examples: 2026 has 53 weeks, for it begins on a Thursday."""
    faces = [Face(".")] * made.weeks(year)
    row = replace(made.week_row("Wipe"), faces=tuple(faces))
    root = read(html_of(made.year_chart([row], year=year, notes=((),) * 12)))
    heads = [th.text for th in table(root, f"{month} {year}, weeks").all("th")]

    assert last in heads


def test_boxes_stand_in_the_month_in_which_their_period_ends() -> None:
    root = page("microscope")

    for number, month in enumerate(MONTHS, start=1):
        rows = next(table(root, f"{month} 2027, boxes").all("tbody")).all("tr")
        titles = [next(row.all("th")).text for row in rows]
        assert titles == ["Clean the lamp housing", "Check the phase rings"][: 2 - (number % 3 > 0)]
    assert cells(root, "June 2027, boxes", "Check the phase rings")[1] == "open"


def test_each_box_says_what_its_own_period_s_cell_is() -> None:
    faces = [Face("d", "JR"), Face("d", "4.1 TA"), Face(","), *[Face(".")] * 8, Face("E")]
    root = read(html_of(made.year_chart([made.box_row("Lamp hours", Each.MONTH, faces)])))
    told = [cells(root, f"{month} 2027, boxes", "Lamp hours")[1] for month in MONTHS]

    assert told[:4] == ["done, JR", "done, 4.1 TA", "over, nothing recorded", "open"]
    assert told[11] == "at another site"


def test_a_reason_is_named_as_its_own_days_are() -> None:
    """Two closures in a month: days and weeks tell theirs, and a day that has no name its cause."""
    march = (Note(1, 5, "C", "flood"), Note(15, 19, "C", "paint"))
    days = made.day_faces(C=(60, 64))
    days = (*days[:73], *[Face("C")] * 5, *days[78:89], Face("C"), *days[90:])
    weeks = [Face("C") if turn in (8, 10) else Face(".") for turn in range(52)]
    rows = [made.day_row("Wipe", days), replace(made.week_row("Rinse"), faces=tuple(weeks))]
    chart = made.year_chart([*rows, made.initials_row()], notes=((), (), march, *((),) * 9))
    root = read(html_of(chart))
    told = cells(root, "March 2027, days", "Wipe")

    assert (told[0], told[4], told[14], told[30]) == (
        "closed: flood", "closed: flood", "closed: paint", "closed: closure",
    )  # fmt: skip
    assert cells(root, "March 2027, weeks", "Rinse") == [
        "closed: flood", "open", "closed: paint", "open",
    ]  # fmt: skip


def test_months_without_a_cell_are_left_out() -> None:
    root = page("data logger")

    assert [section["id"] for section in root.all("section") if section["id"]] == ["m6", "m12"]


def test_the_dated_duties_leave_no_cell_empty() -> None:
    rows = table(page("data logger"), "As on 2026-11-25").all("tr")
    told = [[cell.text for cell in row.all("th", "td")] for row in rows]

    assert told == [
        ["Task", "Last done", "Done by", "From", "Due", "No later than", "State"],
        ["Annual service", "2026-05-04", "Harbor Instrument Care", "2027-04-04", "2027-05-04",
         "2027-06-03", "scheduled"],
        ["Compare with a traceable probe", "2026-05-04", "Harbor Instrument Care", "2027-04-04",
         "2027-05-04", "2027-06-03", "scheduled"],
        ["Annual service", "never on record", "Harbor Instrument Care", "2027-04-04", "no date",
         "2027-06-03", "never started"],
    ]  # fmt: skip


def test_a_row_that_is_short_of_a_day_is_not_passed_over() -> None:
    short = replace(made.day_row("Wipe"), faces=made.day_faces()[:-1])

    with pytest.raises(ValueError, match=r"zip\(\) argument 3 is shorter than arguments 1-2"):
        html_of(made.year_chart([short]))
