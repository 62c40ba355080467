"""What tests of several packages share."""

from __future__ import annotations

import os

from hypothesis import settings

from tests.mail_server import mail_server

__all__ = ["mail_server"]

# What proves a checkout draws the same fleets every time; at a desk they are new ones.
settings.register_profile("ci", derandomize=True)
if os.environ.get("CI") == "true":
    settings.load_profile("ci")
