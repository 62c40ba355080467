"""A person gets a picture of the page as it was asked for."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from tests.web.pictures import main
from tests.web.served import served

pytestmark = pytest.mark.browser

_WHO = "<script>document.body.style.background = document.cookie ? 'lime' : 'red'</script>"


def test_a_picture_shows_the_whole_page_in_its_width_to_whoever_has_the_cookie(
    tmp_path: Path,
) -> None:
    page = f"<body style='margin:0'><div style='height:3000px'></div>{_WHO}"
    (tmp_path / "tall.html").write_text(page, encoding="utf-8")
    with served(tmp_path) as address:
        asked = [f"{address}/tall.html", str(tmp_path / "a.png"), "--width", "360"]
        main([*asked, "--cookie", "who=reader"])
        with Image.open(tmp_path / "a.png") as picture:
            assert picture.size == (360, 3000)
            assert picture.convert("RGB").getpixel((9, 2999)) == (0, 255, 0)
        main([*asked, "--no-script", "--window"])
        with Image.open(tmp_path / "a.png") as picture:
            assert picture.size == (360, 800)
            assert picture.convert("RGB").getpixel((9, 9)) == (255, 255, 255)


def test_a_cookie_without_a_value_is_refused_with_how_to_write_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit):
        main(["http://127.0.0.1/", "a.png", "--cookie", "who"])
    assert "'who' is not a cookie; write it as NAME=VALUE" in capsys.readouterr().err
