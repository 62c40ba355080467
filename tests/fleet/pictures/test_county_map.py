"""Does the map tell each county's standing by a pattern, and nothing that it should not?"""

from __future__ import annotations

import gzip
from xml.etree import ElementTree

from fleet.files.county_shapes import county_shapes
from fleet.pictures.county_map import CountyFacts, Standing, county_map, map_key

SVG = "{http://www.w3.org/2000/svg}"


def drawn(*told: CountyFacts) -> str:
    shapes = county_shapes("US", "NE")
    assert shapes is not None
    return county_map(shapes, {one.county: one for one in told})


def parsed(picture: str) -> ElementTree.Element:
    return ElementTree.fromstring(picture)  # noqa: S314 - our own


def test_each_county_has_its_pattern_its_link_and_its_sentence() -> None:
    root = parsed(drawn(CountyFacts("Adams", Standing.OWES, "/sites/adams", "Adams: 2 overdue")))
    paths = {path.findtext("title"): path for path in root.iter("path") if path.get("class")}
    assert len(paths) == 93
    adams = paths["Adams: 2 overdue"]
    assert adams.get("class") == "county owes"
    fill = adams.get("fill")
    assert fill is not None
    assert root.find(f".//pattern[@id='{fill[5:-1]}']") is not None
    (link,) = root.iter("a")
    assert (link.get("href"), link.get("tabindex")) == ("/sites/adams", "-1")
    assert paths["Boyd: no laboratory"].get("class") == "county none"


def test_a_county_is_found_whatever_its_case_and_ending() -> None:
    for name in ("adams", "ADAMS COUNTY", " Adams County "):
        assert "county gaps" in drawn(CountyFacts(name, Standing.GAPS, "", "x"))


def test_standings_differ_without_colour() -> None:
    fills = {standing: swatch for swatch, standing, _ in map_key()}
    shapes = {
        s: [e.tag for e in parsed(svg).iter() if e.tag in ("path", "circle")]
        for s, svg in fills.items()
    }
    assert shapes[Standing.OWES] == ["path"]
    assert shapes[Standing.SOON] == ["circle"]
    assert shapes[Standing.GAPS] == ["path"]
    assert "-1 1l2-2" in fills[Standing.OWES]
    assert "-1 1l2-2" not in fills[Standing.GAPS]
    assert shapes[Standing.FINE] == shapes[Standing.NONE] == []


def test_what_comes_from_the_record_is_escaped() -> None:
    evil = '"><script>alert(1)</script>'
    picture = drawn(CountyFacts("Adams", Standing.FINE, f"/sites/{evil}", evil))
    assert "<script" not in picture
    parsed(picture)


def test_it_carries_no_style_or_script_and_is_hidden_from_readers() -> None:
    picture = drawn()
    for word in ("style", "<script", " on", "href"):
        assert word not in picture
    root = parsed(picture)
    assert root.get("aria-hidden") == "true"
    assert root.get("focusable") == "false"


def test_the_same_facts_make_the_same_small_picture() -> None:
    assert drawn() == drawn()
    assert len(drawn()) < 25_000
    assert len(gzip.compress(drawn().encode())) < 5_000
