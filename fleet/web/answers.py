"""What goes with every answer: cookies, headers, compression, and a tag of its content?

Headers after OWASP ASVS 5.0.0, 3.4; a repeated visit of an unchanged page is answered with 304.
"""

from __future__ import annotations

import gzip
from typing import Final

from flask import Response, g, request

from fleet.services.access.hours import DEVICE_FOR
from fleet.web.asked import Asked
from fleet.web.guard import COOKIE, DEVICE_COOKIE

__all__ = ["finished"]

_POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "object-src 'none'",
        "base-uri 'none'",
    )
)
_HEADERS: Final = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=()",
}
_ONE_YEAR: Final = 31_536_000
_LEAST_TO_SQUEEZE: Final = 500
_SQUEEZED: Final = ("text/", "application/json", "image/svg", "application/problem+json")
_LEVEL: Final = 5


def finished(response: Response) -> Response:
    """The answer as it leaves."""
    asked: Asked | None = g.get("asked")
    for name, value in _HEADERS.items():
        response.headers.setdefault(name, value)
    if asked is not None:
        _set_cookies(response, asked)
        if asked.web.is_behind_tls:
            response.headers["Strict-Transport-Security"] = f"max-age={_ONE_YEAR}"
    if "Cache-Control" not in response.headers:
        is_page = request.method == "GET" and response.status_code == 200
        kept = "private, no-cache" if is_page else "no-store"
        response.headers["Cache-Control"] = kept
    if response.is_streamed or response.direct_passthrough:
        return response
    _tag(response, asked)
    _squeeze(response)
    return response


def _set_cookies(response: Response, asked: Asked) -> None:
    """A session's cookie ends with the browser; a bench's stays."""
    for name, value, seconds in (
        (COOKIE, asked.new_cookie, None),
        (DEVICE_COOKIE, asked.new_device_cookie, int(DEVICE_FOR.total_seconds())),
    ):
        if value is not None:
            response.set_cookie(
                name,
                value,
                max_age=seconds if value else 0,
                path="/",
                secure=True,
                httponly=True,
                samesite="Lax",
            )


def _tag(response: Response, asked: Asked | None) -> None:
    """Tag a page by its content without its forms' masks, and answer 304 where it is known."""
    if request.method != "GET" or response.status_code != 200 or "ETag" in response.headers:
        return
    body = response.get_data()
    for mask in asked.masks if asked is not None else ():
        body = body.replace(mask.encode(), b"")
    import hashlib

    response.set_etag(hashlib.sha256(body).hexdigest()[:32], weak=True)
    if asked is None or asked.new_cookie is None:
        response.make_conditional(request)


def _squeeze(response: Response) -> None:
    response.vary.add("Accept-Encoding")
    if response.status_code in (204, 304) or "Content-Encoding" in response.headers:
        return
    body, kind = response.get_data(), response.mimetype or ""
    takes_gzip = request.accept_encodings["gzip"] > 0 and kind.startswith(_SQUEEZED)
    if takes_gzip and len(body) >= _LEAST_TO_SQUEEZE:
        response.set_data(gzip.compress(body, _LEVEL, mtime=0))
        response.headers["Content-Encoding"] = "gzip"
