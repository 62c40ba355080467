"""What tests of several packages share."""

from __future__ import annotations

from tests.mail_server import mail_server

__all__ = ["mail_server"]
