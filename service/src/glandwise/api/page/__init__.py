"""The page at the root: an enquiry by hand, over the public operations alone.

Its files are part of the package and come as they are: nothing is built, and nothing is fetched from another host. They
hold nothing of the rules, so that whoever may reach the service may read them; what the page asks for needs a token as ever.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files
from typing import Annotated, Final, NamedTuple

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from glandwise.api import held
from glandwise.api.problems import ProblemError
from glandwise.api.render.zones import CAUTION, OTHER, ZONES

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' blob:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types 'none'"
)
"""What a browser may do with the page: run its own script, ask this service, show the drawings it answers with."""
_TYPES: Final = {"html": "text/html", "css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}
_COLOURS: Final = "zones.css"


class _File(NamedTuple):
    body: bytes
    media_type: str
    tag: str


def _colours() -> str:
    """Return the colours of the map as a style sheet, so that they are those of the plot."""
    named = {**ZONES, "other": OTHER}
    lines = [f"  --fails-{name}: {fill}; --edge-{name}: {line};" for name, (fill, line, _) in named.items()]
    return "\n".join([":root {", f"  --care: {CAUTION};", *lines, "}", ""])


def _read() -> dict[str, _File]:
    bodies = {item.name: item.read_bytes() for item in files(__name__).joinpath("files").iterdir() if item.is_file()}
    bodies[_COLOURS] = _colours().encode()
    return {name: _File(body, _TYPES[name.rpartition(".")[2]], held.tag_of(body)) for name, body in bodies.items()}


_FILES: Final[Mapping[str, _File]] = _read()
_INDEX: Final = "index.html"
PATHS: Final = frozenset({"/", *(f"/page/{name}" for name in _FILES if name != _INDEX)})
"""Paths of the page and of what it is made of."""

router = APIRouter(include_in_schema=False)


def _answer(request: Request, file: _File) -> Response:
    """Answer with a file, or 304 where the browser holds it already."""
    headers = {
        "cache-control": "no-cache",
        "content-security-policy": POLICY,
        "referrer-policy": "no-referrer",
        "cross-origin-opener-policy": "same-origin",
        "cross-origin-resource-policy": "same-origin",
    }
    return held.answer(request, file.body, file.tag, file.media_type, headers)


@router.get("/", operation_id="show_page")
async def show_page(request: Request) -> Response:
    """Show the page."""
    return _answer(request, _FILES[_INDEX])


@router.get("/page/{file}", operation_id="show_page_file")
async def show_page_file(
    request: Request,
    file: Annotated[str, Path(description="File of the page.", pattern=r"^[a-z]+\.[a-z]+$", max_length=64)],
) -> Response:
    """Show a file that the page is made of."""
    if f"/page/{file}" not in PATHS:
        raise ProblemError("not-found", "no file of the page has this name")
    return _answer(request, _FILES[file])
