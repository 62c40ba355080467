"""Do pages say what people can read?"""

from __future__ import annotations

import pytest

from fleet.web.words import browser

ENGINE = "AppleWebKit/537.36 (KHTML, like Gecko)"


@pytest.mark.parametrize(
    ("label", "said"),
    [
        (f"Mozilla/5.0 (X11; Linux x86_64) {ENGINE} Maker/150.0.0.0 Safari/537.36", "Maker 150"),
        (f"Mozilla/5.0 (Windows NT 10.0; Win64) {ENGINE} Maker/9.1 Other/8.2", "Other 8"),
        ("Mozilla/5.0 (Windows NT 10.0; rv:140.0) Gecko/20100101 Maker/140.0", "Maker 140"),
        (f"Mozilla/5.0 (iPhone; like) {ENGINE} Version/26.0 Safari/604.1", "Safari 604"),
        ("a browser", "a browser"),
        ("", "a browser that gives no name"),
    ],
)
def test_a_browser_is_told_by_its_own_name(label: str, said: str) -> None:
    assert browser(label).partition(" on ")[0] == said


def test_a_browser_is_told_with_the_system_it_runs_on() -> None:
    linux = f"Mozilla/5.0 (Linux; Android 16; K) {ENGINE} Maker/150.0 Mobile Safari/537.36"
    assert browser(linux) == "Maker 150 on Android 16"
