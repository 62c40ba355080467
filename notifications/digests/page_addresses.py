"""At which page is all of it, where the pages are served?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final
from urllib.parse import quote

__all__ = ["page_address"]

_AT_SITE: Final = {
    "due": "#duties",
    "gaps": "#gaps",
    "actions": "#trouble",
    "reviews": "#months",
    "chart --status": "#charts",
}
_AT_REGION: Final = {"due": "#counties", "actions": "#trouble", "reviews": "#reviews"}


def page_address(base_url: str, command: str, options: Mapping[str, Sequence[str]]) -> str:
    """The page that answers what a command answers, down to its section.

    '' where no pages are served; their first page where several sites are meant, or none.
    """
    if not base_url:
        return ""
    sites = options.get("--site", ())
    if len(sites) == 1:
        return f"{base_url}/sites/{quote(sites[0], safe='')}{_AT_SITE.get(command, '')}"
    if "--region" in options:
        return f"{base_url}/region{_AT_REGION.get(command, '')}"
    return base_url
