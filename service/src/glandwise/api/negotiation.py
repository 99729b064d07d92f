"""Media types: what an operation takes, and the choice of the representation of an answer by the ``Accept`` header."""

from __future__ import annotations

from typing import Any

import mimeparse
from starlette.responses import Response

from glandwise.api.problems import ProblemError
from glandwise.engine import Engine
from glandwise.operations import AAS, CSV, DXF, LINES, PDF, SVG, XLSX, Operation

JSON = "application/json"
COLUMNS = "application/vnd.apache.arrow.stream"


def takes(operation: Operation) -> tuple[str, ...]:
    """Return the media types in which an operation takes its requests."""
    many = (LINES, operation.lines), (CSV, operation.told), (XLSX, operation.told), (COLUMNS, operation.columns)
    return (JSON, *(form for form, taken in many if taken))


_PLAIN = frozenset({None, "", "*/*", "application/json", "application/*"})


SECTIONS = (PDF, DXF, SVG)
"""Media types of an answer with a cross-section: its sheet for paper, and the drawing by itself."""
EVERYWHERE = (CSV, "text/html")
"""Media types in which every calculation answers beside JSON: a table and a calculation sheet."""
SHEET_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""What a browser may do with a sheet: show it, and fetch or run nothing."""


def representations(operation: Operation) -> tuple[str, ...]:
    """Return the media types in which an operation answers beside JSON."""
    shell = (AAS,) if operation.asset_shell else ()
    return (*dict(operation.renderings), *shell, *(SECTIONS if operation.section else ()), *EVERYWHERE)


def offers(operation: Operation) -> tuple[str, ...]:
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


def require_words(offer: str, result: Any) -> None:
    """Refuse to draw an answer without words: a page that says nothing of its cautions would be taken for all there is."""
    if result.get("detail") == "verdict":
        raise ProblemError("not-acceptable", f'{offer} is made of the full answer; accepted: detail "full", or {JSON}')


def choose(accept: str | None, operation: Operation) -> str | None:
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


def render(offer: str, operation: Operation, request: Any, result: Any, engine: Engine) -> Response:
    """Render a result in another media type than JSON; may be run in a thread."""
    if offer == "text/html":
        from glandwise.api.render import sheet

        page = sheet.render(operation, request, result, engine)
        return Response(page, media_type=offer, headers={"content-security-policy": SHEET_POLICY})
    if offer == CSV:
        from glandwise.api.render import table

        return Response(table.render(result), media_type=offer)
    if operation.asset_shell and offer == AAS:
        return Response(_shell(operation, request, result, engine), media_type=offer)
    if operation.section and offer in SECTIONS:
        return Response(_drawn(offer, operation, request, result, engine), media_type=offer)
    from glandwise.api.render.renderers import rendered

    return Response(rendered(operation, offer, request, result, engine), media_type=offer)


def _not_installed(offer: str, extra: str, instead: str) -> ProblemError:
    detail = f"{offer} is not installed with this service (its extra {extra}); accepted: {instead}"
    return ProblemError("not-acceptable", detail)


def _shell(operation: Operation, request: Any, result: Any, engine: Engine) -> bytes:
    """Write the seal of an answer as an Asset Administration Shell, its drawing and its sheet with it."""
    from glandwise.api.render import section, sheet, shell

    model = operation.request.model_validate(request)
    documents = (
        ("cross_section", "Cross-section of the seal in its gland, to scale.", SVG, section.render_svg(model, result, engine)),
        ("calculation_sheet", "Calculation sheet.", "text/html", sheet.render(operation, request, result, engine)),
    )  # fmt: skip
    try:
        return shell.render_shell(result, documents)
    except shell.MissingError:
        raise _not_installed(AAS, "aas", JSON) from None


def _drawn(offer: str, operation: Operation, request: Any, result: Any, engine: Engine) -> bytes:
    """Draw the cross-section of the seal of an answer, or write its sheet for paper."""
    from glandwise.api.render import pdf, section, section_dxf, sheet

    model = operation.request.model_validate(request)
    if offer == SVG:
        return section.render_svg(model, result, engine)
    if offer == PDF and model.working:
        detail = f"{PDF} holds no working, whose formulas it could not set; accepted: working false, or text/html"
        raise ProblemError("not-acceptable", detail)
    try:
        if offer == DXF:
            return section_dxf.render_dxf(model, result, engine)
        return pdf.write(sheet.render(operation, request, result, engine), letter=model.units.system == "us")
    except (section_dxf.MissingError, pdf.MissingError):
        extra, instead = ("dxf", SVG) if offer == DXF else ("pdf", "text/html")
        raise _not_installed(offer, extra, instead) from None
