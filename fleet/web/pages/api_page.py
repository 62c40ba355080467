"""How does another program begin to ask? In words, and operation by operation."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from flask import abort
from flask.typing import ResponseReturnValue

from fleet.web.api.document import document
from fleet.web.api.problems import SORTS
from fleet.web.asked import asked
from fleet.web.routes import Pages
from fleet.web.who import ACCOUNTS

__all__ = ["PAGES"]

PAGES = Pages()


@dataclass(frozen=True, slots=True)
class Operation:
    """One thing that can be asked: its address, what it answers, what it takes."""

    name: str
    method: str
    path: str
    summary: str
    description: str
    takes: list[tuple[str, str, bool]]
    """Name, meaning, and whether it is needed."""


@PAGES.get("/api", who=ACCOUNTS)
def api_page() -> ResponseReturnValue:
    """The page about the API; a bench has no account, and no token."""
    if not asked().visitor.email:
        abort(403)
    found = document()
    groups = {tag["name"]: list(_operations(found, tag["name"])) for tag in found["tags"]}
    return asked().page("api.html", about=found["info"], groups=groups, sorts=SORTS)


def _operations(found: dict[str, Any], tag: str) -> Iterator[Operation]:
    for path, methods in found["paths"].items():
        for method, told in methods.items():
            if tag in told["tags"]:
                yield Operation(
                    told["operationId"],
                    method.upper(),
                    path,
                    told["summary"],
                    told["description"],
                    list(_takes(found, told)),
                )


def _takes(found: dict[str, Any], told: dict[str, Any]) -> Iterator[tuple[str, str, bool]]:
    for one in told.get("parameters", ()):
        parameter = _meant(found, one)
        is_needed = parameter.get("required", False)
        yield parameter["name"], parameter["description"], is_needed
    if "requestBody" in told:
        schema = _meant(found, told["requestBody"]["content"]["application/json"]["schema"])
        for name, field in schema["properties"].items():
            yield name, field.get("description", ""), name in schema["required"]


def _meant(found: dict[str, Any], one: Mapping[str, Any]) -> Mapping[str, Any]:
    """What a reference of the document means, or the thing itself."""
    meant: Any = found
    for name in one["$ref"].split("/")[1:] if "$ref" in one else ():
        meant = meant[name]
    return meant if "$ref" in one else one
