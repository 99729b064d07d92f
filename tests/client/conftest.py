"""Fixtures of the tests of the client."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from glandwise.app import create_app
from glandwise.questions.warm import warm
from glandwise_client import GlandwiseClient

from tests.client.support import ROOT


@pytest.fixture(scope="session")
def document() -> dict[str, Any]:
    """The committed contract."""
    content: dict[str, Any] = json.loads((ROOT / "openapi" / "openapi.json").read_text(encoding="utf-8"))
    return content


@pytest.fixture(scope="session")
def app() -> Any:
    """The service's application, ready: a client in process runs no start of a server, which would see to it."""
    warm()
    return create_app()


@pytest.fixture(scope="session")
def client(app: Any) -> Iterator[GlandwiseClient]:
    """A client of the service in this process."""
    with GlandwiseClient.in_process(app) as client:
        yield client
