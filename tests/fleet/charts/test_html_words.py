"""A chart's twin says which print it is and what to beware of, whatever words it has to hold."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fleet.charts.codes import read_code
from fleet.charts.html import chart_html, index_html
from fleet.services.charts.facts import Face, Note
from tests.fleet.charts import charts_made as made
from tests.fleet.charts.html_read import cells, read


def test_the_print_its_codes_and_what_it_replaces_stand_in_clear() -> None:
    one = made.printed(made.microscope(), replaces="AAAA1111")
    root = read(chart_html(replace(one, differs=["Row 'Wipe' is new"])))
    told = {head.text: dd.text for head, dd in zip(root.all("dt"), root.all("dd"), strict=True)}
    codes = [read_code(code) for code in told["Codes of its pages"].split(", ")]

    assert told["Print"].startswith("4K7Q09ZX, printed 25 Nov 2026, replaces print AAAA1111")
    assert [(code.number, code.page) for code in codes if code] == [
        ("4K7Q09ZX", page) for page in range(1, one.print.pages + 1)
    ]
    assert "This chart differs from print AAAA1111:" in [p.text for p in root.all("p")]
    assert "Row 'Wipe' is new" in [li.text for li in root.all("li")]


def test_cautions_come_before_all_tables_and_defer_to_the_manual() -> None:
    main = next(read(chart_html(made.printed(made.microscope()))).all("main"))
    first = next(main.all("section"))

    assert next(first.all("h2")).text == "Cautions"
    assert [li.text for li in first.all("li")] == list(made.CAUTIONS)
    assert "The manufacturer's manual" in first.text
    assert not list(first.all("table"))


def test_a_unit_of_which_only_the_number_is_known_is_told_by_it() -> None:
    bare = made.unit(manufacturer="", model="", serial="")
    root = read(chart_html(made.printed(replace(made.microscope(), unit=bare))))

    assert "MS-0412" in [dd.text for dd in root.all("dd")]


@pytest.mark.parametrize(
    "word",
    [
        "<b>&amp;</b>",
        "\"Fast\" & 'slow'",
        "מיקרוסקופ",
        "🧪 oven",
        "</td></table><script>x</script>",
    ],
)
def test_words_are_told_as_they_stand_whatever_they_hold(word: str) -> None:
    chart = made.year_chart(
        [made.day_row(word), made.initials_row([Face("d", word)] * 365)],
        name=word,
        unit=made.unit(word, model=word, serial=word),
        site=replace(made.SITE, name=word),
        cautions=(word,),
        notes=((Note(1, 1, "H", word),), *((),) * 11),
    )
    root = read(chart_html(replace(made.printed(chart), differs=[word])))

    assert next(root.all("h1")).text == f"Chart 2027: {word}, {word}"
    assert cells(root, "January 2027, days", "Initials")[0] == f"initials {word}"
    assert cells(root, "January 2027, days", word)[0] == f"closed: {word}"
    assert {word} <= {li.text for li in root.all("li")}
    assert not list(root.all("script", "b"))


def test_an_index_names_and_links_each_chart() -> None:
    root = read(index_html([("A <1>", 'a "1".html'), ("ב", "b.html")]))

    assert [(a.text, a["href"]) for a in root.all("a")] == [
        ("A <1>", 'a "1".html'),
        ("ב", "b.html"),
    ]
    assert [h.text for h in root.all("h1", "h2")] == ["Charts"]
    assert next(root.all("p")).text == "2 charts, each as a page of tables."


def test_an_index_of_no_chart_is_a_page_too() -> None:
    root = read(index_html([]))

    assert not list(root.all("ul", "li"))
    assert next(root.all("p")).text == "0 charts, each as a page of tables."
