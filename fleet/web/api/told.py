"""How is an answer written for programs: values as JSON, and long lists a part at a time?"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final, TypeVar

from flask import Response, abort

from fleet.domain.records import Role, Unit
from fleet.domain.register import Register
from fleet.errors import NotFound
from fleet.web.api.given import Given
from fleet.web.asked import Asked

__all__ = ["PART", "fields_of", "json_answer", "own_unit", "part", "sites_asked"]

Row = TypeVar("Row")
PART: Final = ("limit", "offset")
"""The parameters of every list."""
_USUAL, _MOST, _MOST_SKIPPED = 100, 500, 1_000_000


def json_answer(told: Mapping[str, object], status: int = 200) -> Response:
    """An answer; dates and instants as ISO 8601, the latter in UTC."""
    text = json.dumps(told, default=_plain, ensure_ascii=False, separators=(",", ":"))
    return Response(text, status, mimetype="application/json")


def _plain(value: object) -> object:
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, dt.date):
        return value.isoformat()
    raise TypeError(f"{value!r} has no form in JSON")


def fields_of(record: object, **names: str) -> dict[str, Any]:
    """Some fields of a value, by the names they are told under; '' is told as null."""
    return {told: getattr(record, name) or None for told, name in names.items()}


def part(rows: Sequence[Row], given: Given, tell: Callable[[Row], object]) -> Response:
    """The part of a list that was asked for, and how long the whole is. Raises Refusal."""
    limit = given.count("limit", _USUAL, 1, _MOST)
    offset = given.count("offset", 0, 0, _MOST_SKIPPED)
    given.check()
    items = [tell(row) for row in rows[offset : offset + limit]]
    return json_answer({"items": items, "total": len(rows), "limit": limit, "offset": offset})


def sites_asked(asking: Asked, given: Given, *roles: Role) -> tuple[str, ...]:
    """The sites a list speaks of: all that these roles let the visitor see, or the one named.

    404 for any other; there may be none, which narrows a list to nothing.
    """
    own = asking.visitor.sites(*roles)
    wanted = given.text("site", 64)
    given.check()
    if wanted and wanted not in own:
        abort(404)
    return (wanted,) if wanted else tuple(sorted(own))


def own_unit(asking: Asked, register: Register, number: str, *roles: Role) -> Unit:
    """A unit that stands today at a site the visitor may see.

    404, and the same words, whether there is none or it stands elsewhere.
    """
    try:
        return asking.unit(register, number, *roles)
    except NotFound:
        abort(404)
