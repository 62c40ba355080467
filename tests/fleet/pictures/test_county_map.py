"""Does the map tell each county's standing by a pattern, and nothing that it should not?"""

from __future__ import annotations

import gzip
from xml.etree import ElementTree

import pytest

from fleet.files.county_shapes import county_shapes
from fleet.pictures.county_map import CountyFacts, Standing, county_map, map_key


def drawn(*told: CountyFacts, state: str = "NE") -> str:
    shapes = county_shapes("US", state)
    assert shapes is not None
    return county_map(shapes, {one.county: one for one in told})


def parsed(picture: str) -> ElementTree.Element:
    return ElementTree.fromstring(picture)  # noqa: S314 - our own


def counties(picture: str) -> dict[str | None, str | None]:
    """The class of each county, by its sentence."""
    paths = [path for path in parsed(picture).iter("path") if path.find("title") is not None]
    return {path.findtext("title"): path.get("class") for path in paths}


def all_told() -> list[CountyFacts]:
    shapes = county_shapes("US", "NE")
    assert shapes is not None
    said = "2 overdue, the longest by 41 days; 3 due"
    return [
        CountyFacts(one.name, Standing.OWES, f"/sites/{one.code}", f"{one.name}: {said}")
        for one in shapes.counties
    ]


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
    assert paths["Boyd: nothing told"].get("class") == "county none"


@pytest.mark.parametrize(
    ("state", "name", "seen"),
    [
        ("NE", "ADAMS", "Adams"),
        ("NE", " Adams County ", "Adams"),
        ("LA", "Acadia parish", "Acadia"),
        ("VA", "Norfolk city", "Norfolk"),
        ("VA", "James City County", "James City"),
        ("NV", "Carson City", "Carson City"),
        ("MD", "Baltimore City", "Baltimore city"),
        ("MD", "Baltimore County", "Baltimore"),
    ],
)
def test_a_county_is_found_whatever_its_case_and_ending(state: str, name: str, seen: str) -> None:
    told = counties(drawn(CountyFacts(name, Standing.GAPS, "", "found"), state=state))
    assert told["found"] == "county gaps"
    assert f"{seen}: nothing told" not in told
    assert list(told.values()).count("county gaps") == 1


def test_of_two_that_name_one_county_the_graver_is_shown() -> None:
    grave = CountyFacts("Adams County", Standing.OWES, "", "grave")
    fine = CountyFacts("Adams", Standing.FINE, "", "fine")
    for told in ((grave, fine), (fine, grave)):
        assert counties(drawn(*told))["grave"] == "county owes"


def test_a_county_of_elsewhere_is_left_out() -> None:
    assert drawn(CountyFacts("Elsewhere", Standing.OWES, "/x", "x")) == drawn()


def test_the_key_shows_each_standing_as_the_map_does_the_gravest_first() -> None:
    key = map_key()
    assert [standing for _, standing, _ in key] == list(Standing)
    assert len({words for _, _, words in key}) == len(Standing)
    for swatch, standing, _ in key:
        (rect,) = parsed(swatch).findall("rect")
        picture = drawn(CountyFacts("Adams", standing, "", "Adams"))
        (path,) = (p for p in parsed(picture).iter("path") if p.findtext("title") == "Adams")
        assert str(path.get("fill")).replace("map-", "key-") == rect.get("fill")


def test_standings_differ_without_colour() -> None:
    """By what is drawn in a tile, and how densely; the two plain ones by white against grey."""
    sides, drawings = {}, {}
    for swatch, standing, _ in map_key():
        tile = parsed(swatch).find(".//pattern")
        if tile is not None:
            sides[standing] = int(str(tile.get("width")))
            drawings[standing] = str([(one.tag, one.get("d")) for one in tile])
    assert drawings.keys() == {Standing.OWES, Standing.SOON, Standing.GAPS}
    assert len(set(drawings.values())) == 3
    assert sides[Standing.GAPS] > 1.5 * sides[Standing.SOON]
    fills = {s: parsed(svg).findall("rect")[-1].get("fill") for svg, s, _ in map_key()}
    assert fills[Standing.FINE] == "#fff"
    assert fills[Standing.NONE] not in {"#fff", None}


def test_what_comes_from_the_record_is_escaped() -> None:
    evil = """'"><script>alert(1)</script>&amp;"""
    picture = drawn(CountyFacts("Adams", Standing.FINE, f"/sites/{evil}", evil))
    assert "<script" not in picture
    (link,) = parsed(picture).iter("a")
    assert link.get("href") == f"/sites/{evil}"
    assert link.findtext("path/title") == evil


def test_it_carries_no_style_or_script_and_is_hidden_from_readers() -> None:
    for picture in (drawn(*all_told()), *(swatch for swatch, _, _ in map_key())):
        root = parsed(picture)
        assert (root.get("aria-hidden"), root.get("focusable")) == ("true", "false")
        for element in root.iter():
            assert element.tag not in {"style", "script", "clipPath", "text", "foreignObject"}
            assert not [name for name in element.attrib if name == "style" or name[:2] == "on"]


def test_the_same_facts_make_the_same_small_picture() -> None:
    told = all_told()
    assert drawn(*told) == drawn(*reversed(told))
    assert len(drawn()) <= 15_000
    assert len(gzip.compress(drawn(*told).encode())) <= 4_000
