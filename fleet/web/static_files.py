"""Which style sheets and scripts do pages load, under names that may be kept for a year?"""

from __future__ import annotations

import gzip
import hashlib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Final

from flask import Response, abort, request

__all__ = ["asset_path", "static_file", "worker_file"]

_KINDS: Final = {"css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}
_WORKER: Final = "worker.js"


@dataclass(frozen=True, slots=True)
class _Asset:
    content: bytes
    squeezed: bytes
    kind: str
    digest: str


@cache
def _assets() -> dict[str, _Asset]:
    """Every file by its plain name."""
    found = {}
    for file in resources.files("fleet.web").joinpath("static").iterdir():
        kind = _KINDS.get(file.name.rpartition(".")[2])
        if kind is not None:
            content = file.read_bytes()
            digest = hashlib.sha256(content).hexdigest()[:12]
            found[file.name] = _Asset(content, gzip.compress(content, 9, mtime=0), kind, digest)
    return found


def asset_path(name: str) -> str:
    """The path of a file; it changes whenever the file does."""
    stem, _, ending = name.rpartition(".")
    return f"/static/{stem}.{_assets()[name].digest}.{ending}"


def static_file(name: str) -> Response:
    """A file under its hashed name, to be kept for a year; 404 for any other name."""
    stem, _, ending = name.rpartition(".")
    plain, _, digest = stem.rpartition(".")
    asset = _assets().get(f"{plain}.{ending}")
    if asset is None or asset.digest != digest:
        abort(404)
    return _answer(asset, "public, max-age=31536000, immutable")


def worker_file() -> Response:
    """The service worker, which browsers ask for anew each time."""
    return _answer(_assets()[_WORKER], "no-cache")


def _answer(asset: _Asset, kept: str) -> Response:
    takes_gzip = request.accept_encodings["gzip"] > 0
    response = Response(asset.squeezed if takes_gzip else asset.content, mimetype=asset.kind)
    if takes_gzip:
        response.headers["Content-Encoding"] = "gzip"
    response.headers["Cache-Control"] = kept
    response.set_etag(asset.digest)
    response.make_conditional(request)
    return response
