"""Responses made small for a thin line: text is sent compressed to whoever takes it so."""

from __future__ import annotations

import gzip
from functools import lru_cache

from flask import Response, request

LEAST_BYTES = 800
"""Less than this fits one packet anyway."""
TEXTS = ("text/", "application/json", "application/problem+json", "application/manifest+json", "image/svg+xml")


@lru_cache(maxsize=64)
def _kept(content: bytes) -> bytes:
    """Return our own files compressed as far as it goes; each is done once."""
    return gzip.compress(content, 9, mtime=0)


def squeezed(response: Response) -> Response:
    """Return a response, compressed where it is text, worth it, and the browser says that it takes it."""
    if not (response.content_type or "").startswith(TEXTS) or response.status_code in (204, 304):
        return response
    response.headers.add("Vary", "Accept-Encoding")
    if not request.accept_encodings["gzip"] or "Content-Encoding" in response.headers or request.method == "HEAD":
        return response
    if "Range" in request.headers:
        return response
    response.direct_passthrough = False
    content = response.get_data()
    if len(content) < LEAST_BYTES:
        return response
    ours = request.endpoint == "static"
    response.set_data(_kept(content) if ours else gzip.compress(content, 5, mtime=0))
    response.headers["Content-Encoding"] = "gzip"
    return response
