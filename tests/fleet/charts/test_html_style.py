"""A chart's twin can be seen by day, by night and in print, on a narrow screen, by keyboard.

References are to WCAG 2.2 (W3C Recommendation, 2023); relative luminance and contrast are computed
by its definitions.
"""

from __future__ import annotations

import re

import pytest

from fleet.charts.html import chart_html
from tests.fleet.charts import charts_made as made
from tests.fleet.charts.html_read import Element, read


@pytest.fixture(scope="module")
def page() -> Element:
    """The twin of a microscope's chart."""
    return read(chart_html(made.printed(made.microscope())))


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_computed_as_wcag_says() -> None:
    """WCAG 2.2: black on white is 21:1; #767676 on white is the known grey that just passes."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert 4.5 <= contrast("#767676", "#ffffff") < 4.6


def test_letters_and_lines_stand_out_by_day_by_night_and_in_print(page: Element) -> None:
    """WCAG 2.2: 1.4.3 contrast (minimum) 4.5:1, 1.4.11 non-text contrast 3:1."""
    style = next(page.all("style")).text
    schemes = [
        dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", block))
        for block in re.findall(r":root \{([^}]*)\}", style)
    ]

    assert len(schemes) == 3
    for scheme in schemes:
        for ground in (scheme["paper"], scheme["crossed"]):
            assert min(contrast(scheme[name], ground) for name in ("ink", "soft", "link")) >= 4.5
            assert contrast(scheme["line"], ground) >= 3
    rest = re.sub(r":root \{[^}]*\}", "", style)
    assert not re.search(r"#[0-9a-fA-F]{3,8}\b|rgb|opacity", rest)


def test_tables_scroll_within_themselves_and_the_keyboard_reaches_them(page: Element) -> None:
    """WCAG 2.2: 1.4.10 reflow (data tables may scroll both ways), 2.1.1 keyboard."""
    style = next(page.all("style")).text
    held = [t for div in page.all("div") if div["class"] == "scroll" for t in div.all("table")]

    assert len(held) == len(list(page.all("table")))
    assert {div["tabindex"] for div in page.all("div") if div["class"] == "scroll"} == {"0"}
    assert re.search(r"\.scroll \{[^}]*overflow-x: auto", style)
