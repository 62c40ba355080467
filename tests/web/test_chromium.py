"""Without a browser a test is skipped at a desk, and fails where a checkout is proved."""

from __future__ import annotations

import shutil

import pytest

from tests.web.chromium import program

_REASON = "no browser to test with: chromium is not on this machine"


@pytest.fixture
def no_browser(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine without chromium."""
    monkeypatch.setattr(shutil, "which", lambda name: None)


@pytest.mark.usefixtures("no_browser")
def test_a_desk_without_a_browser_skips(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(pytest.skip.Exception, match=_REASON):
        program()


@pytest.mark.usefixtures("no_browser")
def test_the_proof_of_a_checkout_never_skips(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CI", "true")
    # A skip that got through would skip this test: it is caught here, to fail it.
    with pytest.raises((pytest.fail.Exception, pytest.skip.Exception), match=_REASON) as told:
        program()
    assert told.type is pytest.fail.Exception
