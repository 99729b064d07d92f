"""The documentation page works where there is no internet: all it loads comes from the service."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from fastapi.testclient import TestClient


class _References(HTMLParser):
    """Collect what a page loads."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002
        self.found += [value for name, value in attrs if name in {"src", "href", "srcset", "action", "data"} and value]


def test_documentation_page_loads_from_the_service_only(client: TestClient) -> None:
    page = client.get("/docs")
    assert page.status_code == 200
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    references = _References()
    references.feed(page.text)
    assert len(references.found) >= 3
    for reference in references.found:
        assert re.match(r"/[^/]", reference), reference
        file = client.get(reference)
        assert file.status_code == 200, reference
        assert len(file.content) > 1000, reference
        assert file.headers["x-content-type-options"] == "nosniff"
        kind = {"js": "text/javascript", "css": "text/css", "png": "image/png"}[reference.rsplit(".", 1)[1]]
        assert file.headers["content-type"].startswith(kind)
    # no other host in the script of the page either, nor the online validator the script would ask by itself
    assert not re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]+", page.text)
    assert '"validatorUrl": null' in page.text
    assert "url: '/openapi.json'" in page.text


def test_style_sheet_imports_nothing(client: TestClient) -> None:
    sheet = client.get("/static-offline-docs/swagger-ui.css").text
    assert "@import" not in sheet
    assert set(re.findall(r"""url\(\s*["']?(.{5})""", sheet)) == {"data:"}


def test_only_one_documentation_page_is_served(client: TestClient) -> None:
    assert client.get("/redoc").status_code == 404
    assert client.get("/static-offline-docs/../asgi.py").status_code == 404
    assert client.get("/static-offline-docs/%2e%2e/%2e%2e/asgi.py").status_code == 404
