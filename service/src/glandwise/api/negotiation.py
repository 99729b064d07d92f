"""Choice of the representation of an answer by the ``Accept`` header."""

from __future__ import annotations

from typing import Any

import mimeparse
from starlette.responses import Response

from glandwise.api.problems import ProblemError

_PLAIN = frozenset({None, "", "*/*", "application/json", "application/*"})


def offers(operation: str) -> tuple[str, ...]:
    """Return the media types in which an operation answers, the preferred one last (as mimeparse wants it)."""
    del operation
    return ("application/json",)


def require_json(accept: str | None) -> None:
    """Refuse an ``Accept`` header that leaves no room for JSON, for resources that have no other representation."""
    try:
        acceptable = accept in _PLAIN or mimeparse.best_match(["application/json"], accept) != ""
    except ValueError:
        acceptable = False
    if not acceptable:
        raise ProblemError("not-acceptable", "this resource is application/json")


def choose(accept: str | None, operation: str) -> str | None:
    """Return the media type to answer in; ``None`` for plain JSON."""
    if accept in _PLAIN:
        return None
    available = offers(operation)
    try:
        best = mimeparse.best_match(list(available), accept)
    except ValueError:
        best = ""
    if not best:
        raise ProblemError("not-acceptable", f"this operation answers in {', '.join(reversed(available))}")
    return None if best == "application/json" else best


def render(offer: str, operation: str, request: Any, result: Any) -> Response:
    """Render a result in another media type than JSON."""
    raise AssertionError((offer, operation, request, result))
