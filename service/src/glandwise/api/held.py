"""Answers that a caller may hold already: an entity tag, and 304 for whoever shows it again."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

from starlette.requests import Request
from starlette.responses import Response


def tag_of(body: bytes) -> str:
    """Return the entity tag of a content."""
    return f'"{hashlib.sha256(body).hexdigest()[:32]}"'


def answer(request: Request, body: bytes, tag: str, media_type: str, headers: Mapping[str, str]) -> Response:
    """Answer with a content and its tag, or 304 where the caller holds it already."""
    # weak: compressed, the content is the same and the bytes are others
    tagged = {"etag": f"W/{tag}", **headers}
    held = request.headers.get("if-none-match", "")
    if tag in {item.strip().removeprefix("W/") for item in held.split(",")} or held.strip() == "*":
        return Response(status_code=304, headers={**tagged, "vary": "Accept-Encoding"})
    return Response(body, media_type=media_type, headers=tagged)
