"""What tests of the instruments for web pages share."""

from __future__ import annotations

from tests.web.chromium import a_browser

__all__ = ["a_browser"]
