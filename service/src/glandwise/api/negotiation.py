"""Media types: what an operation takes, and the choice of the representation of an answer by the ``Accept`` header."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Any

import mimeparse
from starlette.responses import Response

from glandwise.api.problems import ProblemError

JSON = "application/json"
LINES = "application/x-ndjson"
COLUMNS = "application/vnd.apache.arrow.stream"

SINGLE_OPERATIONS = frozenset({"compare_rule_sets", "audit_rule_set"})
"""Operations that take one request only: they judge many cases by themselves."""


COLUMN_OPERATIONS = frozenset({"check_envelope"})
"""Operations that take a table of cases."""


def takes(operation: str) -> tuple[str, ...]:
    """Return the media types in which an operation takes its requests."""
    many = () if operation in SINGLE_OPERATIONS else (LINES,)
    return (JSON, *many, COLUMNS) if operation in COLUMN_OPERATIONS else (JSON, *many)


_PLAIN = frozenset({None, "", "*/*", "application/json", "application/*"})


RENDERERS: Mapping[str, Mapping[str, str]] = {
    "map_operation": {"image/svg+xml": "operating_map:render_map"},
    "allow_runout": {"image/svg+xml": "runout:render_curve"},
    "estimate_energizer_load": {"image/svg+xml": "energizer:render_curve"},
    "compare_rule_sets": {"application/x-ndjson": "lines:render_cases"},
}
"""Operation → media type → module and function of :mod:`glandwise.api.render` that makes it from the result.

The modules are imported at first use: a plotting library would double the time to start.
"""
EVERYWHERE = ("text/csv", "text/html")
"""Media types in which every calculation answers beside JSON: a table and a calculation sheet."""
SHEET_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""What a browser may do with a sheet: show it, and fetch or run nothing."""


def representations(operation: str) -> tuple[str, ...]:
    """Return the media types in which an operation answers beside JSON."""
    return (*RENDERERS.get(operation, ()), *EVERYWHERE)


def offers(operation: str) -> tuple[str, ...]:
    """Return the media types in which an operation answers, the preferred one last (as mimeparse wants it)."""
    return (*representations(operation), "application/json")


def require_json(accept: str | None) -> None:
    """Refuse an ``Accept`` header that leaves no room for JSON, for resources that have no other representation."""
    try:
        acceptable = accept in _PLAIN or mimeparse.best_match(["application/json"], accept) != ""
    except ValueError:
        acceptable = False
    if not acceptable:
        raise ProblemError("not-acceptable", "this resource is application/json")


def require(media_type: str, accept: str | None) -> None:
    """Refuse an ``Accept`` header that leaves no room for a batch, which is answered in the form it came in."""
    try:
        acceptable = accept in {None, "", "*/*"} or mimeparse.best_match([media_type], accept) != ""
    except ValueError:
        acceptable = False
    if not acceptable:
        raise ProblemError("not-acceptable", f"a batch of {media_type} is answered in {media_type}")


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
    """Render a result in another media type than JSON; may be run in a thread."""
    drawings = RENDERERS.get(operation, {})
    if offer == "text/html":
        from glandwise.api.render import sheet

        page = sheet.render(operation, request, result, drawings.get("image/svg+xml"))
        return Response(page, media_type=offer, headers={"content-security-policy": SHEET_POLICY})
    if offer == "text/csv":
        from glandwise.api.render import table

        return Response(table.render(result), media_type=offer)
    module, _, function = drawings[offer].partition(":")
    content: bytes = getattr(import_module(f"glandwise.api.render.{module}"), function)(result)
    return Response(content, media_type=offer)
