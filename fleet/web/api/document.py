"""What does the document say that describes the API to programs (OpenAPI 3.1)?

It is written by hand; tests hold it against the routes and against the answers.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import Any

from flask import Response

from fleet.web.api.given import query
from fleet.web.routes import ANYBODY, Operations

__all__ = ["OPERATIONS", "document"]

OPERATIONS = Operations()


@cache
def _text() -> bytes:
    return resources.files("fleet.web.api").joinpath("openapi.json").read_bytes()


def document() -> dict[str, Any]:
    """The document, as an object."""
    found: dict[str, Any] = json.loads(_text())
    return found


@OPERATIONS.get("/api/openapi.json", who=ANYBODY)
def openapi() -> Response:
    """The document; it holds nothing of anybody, and is given without a token."""
    query().check()
    return Response(_text(), mimetype="application/json")
