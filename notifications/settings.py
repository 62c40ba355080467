"""Who sends the mail, through which server, and where can its readers look further?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

__all__ = ["Settings"]

_SENDER = "digest@dueward.example"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The mail settings; every one has a default, so that digests can be read without a server."""

    smtp: str = ""
    """The server as a URL (DUEWARD_SMTP); '' sends nothing."""
    smtp_password_file: Path | None = None
    """A file that holds the password and nothing else (DUEWARD_SMTP_PASSWORD_FILE)."""
    smtp_ca_file: Path | None = None
    """Certificates to trust instead of the machine's (DUEWARD_SMTP_CA_FILE)."""
    mail_from: str = _SENDER
    """The address that sends; someone reads what comes back to it (DUEWARD_MAIL_FROM)."""
    templates: Path | None = None
    """A folder of own templates (DUEWARD_TEMPLATES), checked before it is used."""
    base_url: str = ""
    """Where the pages are served (DUEWARD_BASE_URL); '' names commands instead."""

    @classmethod
    def of(cls, environment: Mapping[str, str]) -> Settings:
        """Read the settings from environment variables; an empty one counts as not set."""

        def path(name: str) -> Path | None:
            return Path(environment[name]) if environment.get(name) else None

        return cls(
            smtp=environment.get("DUEWARD_SMTP", ""),
            smtp_password_file=path("DUEWARD_SMTP_PASSWORD_FILE"),
            smtp_ca_file=path("DUEWARD_SMTP_CA_FILE"),
            mail_from=environment.get("DUEWARD_MAIL_FROM") or _SENDER,
            templates=path("DUEWARD_TEMPLATES"),
            base_url=environment.get("DUEWARD_BASE_URL", "").rstrip("/"),
        )
